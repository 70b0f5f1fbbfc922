"""Which assumed numbers the chance rests on: directions are common sense, by hand."""

from __future__ import annotations

import math

import pytest

from solderrisk.model.question import Run, Stopped
from solderrisk.plan import sensitivity as module
from solderrisk.plan.sensitivity import Effect, candidates, sensitivity, widest
from tests.risk.risk_scene import DECENT, FULL, REFERENCE, asked, engine, lift_kit

KIT = lift_kit("LQFP-48", irreplaceable=True)
ASKED = asked(KIT, FULL)


def test_more_faults_less_chance_better_mending_more() -> None:
    names = ("bridge_rate", "dead_rate", "mend_success", "faults.bridge.seen")
    found = {effect.name: effect for effect in sensitivity(ASKED, names)}
    assert found["bridge_rate"].at_high < found["bridge_rate"].at_low
    assert found["dead_rate"].at_high < found["dead_rate"].at_low
    assert found["mend_success"].at_high > found["mend_success"].at_low
    assert found["faults.bridge.seen"].at_high >= found["faults.bridge.seen"].at_low


def test_dead_parts_alone_by_hand() -> None:
    """A lift of which only the dead part is left of the hazards: exp(-rate) works."""
    calm = REFERENCE.assuming(
        {name: 0.0 for name in REFERENCE.risk.parameters.parameters
         if name.endswith("_rate") and name != "dead_rate"}
        | {"orientation_marked": 0.0, "orientation_unmarked": 0.0, "overheated_share": 0.0}
    )  # fmt: skip
    low, high = (
        calm.risk.parameters.at("dead_rate").low,
        calm.risk.parameters.at("dead_rate").high,
    )
    assert low is not None
    assert high is not None
    (effect,) = sensitivity(ASKED.but(reference=calm), ("dead_rate",))
    # Hazards differ by high - low, and nothing else does.
    assert math.log(effect.at_low / effect.at_high) == pytest.approx(high - low, rel=0.05)


def test_widest_come_first_and_are_the_same_as_asked_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    some = ["residue_rate", "dead_rate", "bridge_rate", "stuck_rate", "neighbour_rate"]
    monkeypatch.setattr(module, "candidates", lambda *_: some)
    seen: list[float] = []
    monkeypatch.setattr(module, "MOST_EFFECTS", 2)
    found = widest(ASKED, engine(), Run(lambda share, _: seen.append(share)))
    assert [effect.name for effect in found] == [
        effect.name for effect in sensitivity(ASKED, some)[:2]
    ]
    assert found[0].width >= found[1].width
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


def test_only_what_can_matter_is_tried() -> None:
    names = candidates(ASKED, engine())
    assert {"bridge_rate", "faults.bridge.seen", "levels.regular.faults_b"} <= set(names)
    assert not any(name.startswith("levels.never") for name in names)
    assert "faults.void.seen" not in names  # no exposed pad in this kit


def test_can_be_stopped() -> None:
    with pytest.raises(Stopped):
        sensitivity(ASKED, ("bridge_rate",), Run(cancelled=lambda: True))


def test_unknown_name() -> None:
    with pytest.raises(KeyError):
        sensitivity(ASKED, ("no_such_rate",))


def test_blocked_kit_rests_on_nothing() -> None:
    none = ASKED.but(bench=DECENT.model_copy(update={"irons": ()}))
    assert sensitivity(none, ("bridge_rate",)) == [Effect("bridge_rate", 0.0, 0.0)]
