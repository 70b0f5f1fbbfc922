"""What a technique heats, and what would help where the heat is in doubt."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Position
from solderrisk.physics.hot_air import air_heat as heat_of_air
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.results import AirHeat, Remedy
from solderrisk.plan import heating
from solderrisk.plan.heating import (
    Ground,
    _in_need,
    _short,
    below,
    falling,
    gap_mm,
    half_box,
    hangs_below,
    heat_remedies,
    heating_curve,
    remedy_words,
)
from solderrisk.risk.results import Option
from tests.heat_joints import QFP_48, SAC, STATION_60, TAB, air_on, joint, tip_on
from tests.plan.kit_builder import AIR, LIBRARY, air_heat, jobs, kit, option, part, risk

DATA = load_reference().physics


def a_tab() -> Option:
    case = tip_on(joint(TAB, 4, 0), STATION_60, 1.0, 22.0)
    return Option("iron", "iron", False, case=case, iron_heat=iron_heat([case], DATA)[0])


def a_package() -> Option:
    case = air_on(QFP_48, 8.0, 40.0, 350.0, SAC, purpose="fit")
    return Option("air", "air", True, case=case, air_heat=heat_of_air([case], DATA)[0])


@pytest.mark.parametrize("make", [a_tab, a_package])
def test_remedies_are_those_of_the_case_that_is_heated(make: Callable[[], Option]) -> None:
    option = make()
    found = heat_remedies(option, DATA)
    assert found
    assert all(remedy.margin_k > 0 for remedy in found)
    assert heating_curve(option, DATA) is not None
    known = option.iron_heat or option.air_heat
    assert known is not None
    assert known.decision != "wets"


def test_no_heat_no_remedy() -> None:
    cold = Option("plate", "plate", True)
    assert heat_remedies(cold, DATA) == ()
    assert heating_curve(cold, DATA) is None


def placed(**at: tuple[float, float]) -> dict[str, Job]:
    parts = [part(ref, "R" if ref[0] == "R" else "QFP", at={ref: spot}) for ref, spot in at.items()]
    return {job.ref: job for job in jobs(kit(placements=[*parts, part("X9", "R")]))}


def test_gaps_between_bodies_by_hand() -> None:
    """A QFP of 14 mm and chips of 1.6 mm: edges 7 and 0.8 mm from their middles."""
    by_ref = placed(U1=(0, 0), R1=(10, 0), R2=(10.8, 11.8), R3=(3, 3))
    chip, u1 = by_ref["R1"], by_ref["U1"]
    assert [gap_mm(u1, chip), gap_mm(chip, u1)] == pytest.approx([2.2, 2.2])
    assert gap_mm(u1, chip, whole=False) == pytest.approx(9.2)
    assert gap_mm(chip, u1, whole=False) == pytest.approx(3.0)
    assert gap_mm(u1, by_ref["R2"]) == pytest.approx(5.0)  # 3 and 4 mm
    assert gap_mm(u1, by_ref["R3"]) == 0.0
    assert gap_mm(u1, by_ref["X9"]) is gap_mm(by_ref["X9"], u1) is None
    assert half_box(by_ref["X9"]) == (0.0, 0.0)
    assert u1.position is not None
    assert u1.footprint is not None
    body = u1.footprint.body.model_copy(update={"length_mm": 10.0, "width_mm": 4.0})
    long = replace(u1, footprint=u1.footprint.model_copy(update={"body": body}))
    for turn, box in ((0.0, (5.0, 2.0)), (90.0, (2.0, 5.0)), (30.0, (5.330, 4.232))):
        spun = replace(long, position=replace_turn(u1, turn))
        assert half_box(spun) == pytest.approx(box, abs=1e-3)


def replace_turn(job: Job, turn: float) -> Position:
    assert job.position is not None
    return job.position.model_copy(update={"rotation_deg": turn})


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("reach", [0.5, 3.0, 9.2, 30.0])
def test_what_is_near_is_what_every_gap_says(reach: float, whole: bool) -> None:
    rng = random.Random(5)
    spots = {f"R{n}": (rng.uniform(0, 40), rng.uniform(0, 40)) for n in range(20)}
    all_ = [*placed(**spots, U1=(20, 20)).values()]
    ground = Ground(all_)
    for job in all_:
        near = [other for other in all_ if other is not job and gap_mm(job, other) is not None
                and (gap_mm(job, other, whole=whole) or 0.0) <= reach]  # fmt: skip
        assert list(ground.within(job, reach, whole=whole)) == near
    assert list(Ground([]).within(all_[0], 5.0)) == []


def test_who_needs_help_with_heat() -> None:
    (item,) = risk(jobs(kit(placements=[part("U1", "SO")]))).jobs
    cold, warm = a_tab(), replace(a_tab(), iron_heat=None)
    unsure = replace(item, options=(replace(cold, decided=False),))
    assert _in_need(unsure) == unsure.chosen
    assert _in_need(replace(item, options=(replace(cold, decided=True),))) is None
    shut = replace(item, blocked=True, options=(warm, cold, a_package()))
    assert _in_need(shut) == cold
    assert _in_need(replace(shut, options=(warm,))) is None
    both = replace(cold, air_heat=replace(_air(a_package()), decision="wets"))
    assert _short(both)
    assert not _short(replace(both, iron_heat=None))


def test_eight_sorts_are_asked_about_and_three_ways_told(monkeypatch: pytest.MonkeyPatch) -> None:
    ways = tuple(Remedy(float(n), 1.0) for n in range(5))
    monkeypatch.setattr(heating, "heat_remedies", lambda option, data: ways)
    work = jobs(kit(placements=[part(f"U{n}", "SO", price_each=float(n)) for n in range(10)]))
    helps = heating.heat_help(risk(work, {"fit": replace(a_tab(), decided=False)}), DATA)
    assert list(helps) == [f"fit:U{n}" for n in range(8)]
    assert set(helps.values()) == {ways[:3]}


def _air(option: Option) -> AirHeat:
    assert option.air_heat is not None
    return option.air_heat


def test_remedies_read_as_a_bench_would_say_them() -> None:
    """One, two and three changes; over its limit only where it is."""
    one = Remedy(10.0, 2.0, tip_width_mm=2.4, tip_owned=True)
    assert remedy_words(one) == "the 2.4 mm tip"
    two = Remedy(10.0, 2.0, tip_width_mm=3, power_w=80.0, drive="cartridge")
    assert remedy_words(two) == "a 3 mm tip and an iron of 80 W (heater in the tip)"
    three = replace(two, drive="station", preheat_c=100.0, over_limit_k=4.0)
    assert remedy_words(three) == (
        "a 3 mm tip, an iron of 80 W (regulated) and the board preheated to 100 C, but its top "
        "comes 4 K over its limit"
    )
    assert remedy_words(Remedy(10.0, 2.0, air_c=380.0)) == "air of 380 C"


def _coil(mass_g: float) -> Footprint:
    coil = LIBRARY.get("COIL")
    assert coil is not None
    return coil.model_copy(update={"body": coil.body.model_copy(update={"mass_g": mass_g})})


def test_the_heaviest_of_what_hangs_gives_the_figures() -> None:
    """Two coils of 3 and 1 g below a plate, on lands of 2 mm2: 1.5 and 0.5 g each."""
    heavy, light = (_coil(mass_g) for mass_g in (3.0, 1.0))
    of = kit(placements=[part("L1", "COIL", side="bottom"), part("L2", "COIL", side="bottom"),
                         part("U1", "QFN"), part("U2", "QFN")])  # fmt: skip
    work = [replace(job, footprint={"L1": light, "L2": heavy}.get(job.ref, job.footprint))
            for job in jobs(of)]  # fmt: skip
    plate = option("plate_reflow", settings=AIR, source="plate")
    found = risk(tuple(work), {"fit:QFN": plate})
    order = ["fit:L1", "fit:U1", "fit:L2", "fit:U2"]
    told = hangs_below(found, order, DATA)
    assert told["fit:U1"][0].startswith("L1 hangs below, 500 mg on a mm2 of land")
    assert told["fit:U2"][0].startswith("L1, L2 hang below, 1500 mg on a mm2 of land")
    assert set(told) == {"fit:U1", "fit:U2"}
    items = tuple(replace(i, blocked=i.job.ref == "U1") for i in found.jobs)
    assert set(hangs_below(replace(found, jobs=items), order, DATA)) == {"fit:U2"}
    (fall,) = falling(found, order, DATA)
    assert fall.keys == ("fit:L1", "fit:L2")
    near, far = air_heat(reflow_mm=8.0), kit(placements=[
        part("L1", "COIL", side="bottom", at={"L1": (0, 0)}), part("U1", "QFN", at={"U1": (11, 0)}),
        part("U2", "QFN", at={"U2": (11.1, 0)})])  # fmt: skip
    by_ref = {job.ref: job for job in jobs(far)}
    below_ = [[job.ref for job in below(by_ref[ref], near.reflow_radius_mm, [by_ref["L1"]])]
              for ref in ("U1", "U2")]  # fmt: skip
    # Its edge is 8 mm and 8.1 mm from the middle of the heat: less than its reach is near.
    assert below_ == [[], []]
    assert [job.ref for job in below(by_ref["U1"], 8.01, [by_ref["L1"]])] == ["L1"]
    assert [job.ref for job in below(by_ref["U1"], None, [by_ref["L1"], by_ref["U2"]])] == ["L1"]
