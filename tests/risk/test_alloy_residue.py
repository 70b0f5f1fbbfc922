"""Removal alloy that is left on a lifted part lowers the chance, by how much is left and by
where it melts."""

from __future__ import annotations

from functools import lru_cache

import pytest

from solderrisk.model.kit import Board, Donor, Kit, Lift
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Option
from tests.risk.risk_scene import FULL, REFERENCE, REGULAR, asked, engine, kit_of, without

NO_AIR = without(FULL, hot_air=(), preheaters=())
RATE = REFERENCE.risk.parameters.at("alloy_residue_rate")


def lifting(footprint: str, alloy: str = "Sn63Pb37") -> Kit:
    donor = Donor(name="d", board=Board(name="old", alloy=alloy), condition="clean")
    return kit_of((), donors=(donor,), lifts=(Lift(ref="X1", donor="d", footprint=footprint),))


@lru_cache(maxsize=16)
def flooded(footprint: str, alloy: str = "Sn63Pb37", **changes: float) -> Option:
    reference = REFERENCE.assuming(changes) if changes else REFERENCE
    of = RiskEngine(reference) if changes else engine()
    question = asked(lifting(footprint, alloy), NO_AIR, REGULAR, samples=300,
                     pins=(("lift:X1", "low_melt_lift"),))  # fmt: skip
    if changes:
        question = question.but(reference=reference)
    found = of.assess(question).by_key["lift:X1"].chosen
    assert found.technique == "low_melt_lift"
    return found


def left(option: Option) -> tuple[float, float]:
    """Chance of a joint with alloy in it: of one, of any."""
    mode = next(mode for mode in option.modes if mode.mode == "alloy_residue")
    return mode.each.mid, mode.total.mid


def test_what_is_left_lowers_the_chance() -> None:
    assert RATE.low is not None
    assert RATE.high is not None
    rates = (RATE.low, RATE.value, RATE.high, 20 * RATE.value)
    found = [flooded("LQFP-144", alloy_residue_rate=rate) for rate in rates]
    chances = [option.after_mending.mid for option in found]
    assert chances == sorted(chances, reverse=True)
    assert left(found[-1])[1] > 0.75
    assert chances[-1] < chances[0] - 0.03


def test_it_is_in_proportion_to_what_the_cleanings_leave() -> None:
    """Closed form: each pass leaves 15 % of the foreign metal. A bead of bismuth-tin three
    times the old solder's mass is 43.5 % bismuth: 0.15 % after three passes."""
    option = flooded("SHIELDED-12")
    assert option.low_melt is not None
    assert option.low_melt.residue_percent == pytest.approx(0.75 * 58.0 * 0.15**3, rel=1e-3)
    plain, well = (flooded("SHIELDED-12", cleaning_left=share) for share in (0.15, 0.12))
    assert plain.low_melt is not None
    assert well.low_melt is not None
    assert plain.low_melt.cleanings == well.low_melt.cleanings == 3
    ratio = (0.12 / 0.15) ** 3
    assert left(well)[0] / left(plain)[0] == pytest.approx(ratio, rel=0.02)


def test_what_melts_lower_does_more_harm() -> None:
    """Tin-bismuth melts at 139 C and, with lead in it, from 96 C on."""
    leaded, free = (
        [flooded("LQFP-144", alloy, alloy_residue_rate=rate) for rate in (1e-6, 0.06)]
        for alloy in ("Sn63Pb37", "SAC305")
    )
    traps = [each[0].low_melt.trap for each in (leaded, free) if each[0].low_melt]
    assert traps == ["bi_pb_sn", "bi_sn"]
    falls = [clean.after_mending.mid - dirty.after_mending.mid for clean, dirty in (leaded, free)]
    assert falls[0] > 1.2 * falls[1] > 0.0


def test_without_wick_the_alloy_stays_in_and_the_way_is_closed() -> None:
    bench = without(NO_AIR, aids=tuple(aid for aid in NO_AIR.aids if aid != "wick"))
    found = engine().assess(asked(lifting("LQFP-144"), bench)).by_key["lift:X1"]
    missing = {option.technique: option.missing for option in found.options}
    assert "desoldering wick" in missing["low_melt_lift"]
