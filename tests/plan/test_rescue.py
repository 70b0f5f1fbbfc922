"""Rescue cards: what to do about a fault with this bench, and when to stop.

Expected ways are common practice of rework; IPC-7711/7721 names most of the procedures.
"""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest

from solderrisk.model.bench import Bench
from solderrisk.model.plan_data import with_tools
from solderrisk.model.risk_data import ModeId
from solderrisk.plan.cards import rescues
from solderrisk.plan.results import RescueCard
from solderrisk.report.groups import troubles
from solderrisk.risk.detection import able, known_ways, shares
from tests.plan.test_bench_situations import AIR, PLAIN, STATION, fit, job, told
from tests.risk.risk_scene import REFERENCE, library


def card(footprint: str, mode: str, bench: dict[str, object]) -> RescueCard:
    found = told(fit(footprint), bench).rescue("fit:X1", mode)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("footprint", "mode", "bench", "word"),
    [
        ("TSSOP-20", "bridge", STATION, "wick"),
        ("TSSOP-20", "bridge", PLAIN, "flux-cored wire"),
        ("DIP-14", "bridge", PLAIN, "fresh wire"),
        ("SOIC-8", "orientation", STATION | AIR, "hot air"),
        ("SOIC-8", "orientation", STATION, "flooded rows"),
        ("SOIC-8", "orientation", STATION | {"removal_alloys": ["Sn42Bi58"]}, "low-melt"),
        ("R-0603", "tombstone", STATION, "both ends"),
        ("DIP-14", "wrong_part", STATION, "holes emptied"),
        ("TSSOP-20", "lifted_pad", STATION, "wire"),
        ("DIP-14", "short_fill", STATION, "flux and heat"),
        ("BARREL-JACK", "scorched", STATION, "cool unmoved"),
    ],
)
def test_the_way_is_that_of_the_bench(
    footprint: str, mode: str, bench: dict[str, object], word: str
) -> None:
    name = footprint if library().get(footprint) is not None else "DC-JACK-2.1"
    found = card(name, mode, bench)
    assert word in found.way
    assert not found.lacks
    assert found.tries == 3  # ECSS-Q-ST-70-08: at most three reworks
    assert found.steps
    assert found.stop
    assert found.lost


def test_what_no_tool_here_mends_says_what_it_takes() -> None:
    found = card("QFN-32", "void", STATION)
    assert "hot air" in found.lacks
    assert card("QFN-32", "void", STATION | AIR).lacks == ()


def test_every_mode_has_a_rescue_somewhere() -> None:
    told_of = {mode for each in REFERENCE.risk.rescue.rescues for mode in each.modes}
    assert told_of == set(get_args(ModeId))


def test_more_tools_never_mend_less() -> None:
    tools = [tool for tool in REFERENCE.plan.tools if tool.id in {
        "wick", "gel_flux", "hot_air", "low_melt_alloy", "hand_tools", "solder_pump",
    }]  # fmt: skip
    for name in ("TSSOP-20", "R-0603", "DIP-14", "QFN-32", "BGA-144-1"):
        footprint = library().get(name)
        assert footprint is not None
        bare = Bench.model_validate(PLAIN | {"aids": ()})
        for some in combinations(tools, 2):
            known = known_ways(footprint, REFERENCE)
            less, more = (
                dict(shares(known, able(with_tools(bare, tools), REFERENCE)))
                for tools in (some[:1], some)
            )
            assert all(more[mode] >= share for mode, share in less.items())


def test_what_cannot_be_mended_here_counts_in_the_chance() -> None:
    """Of two benches that differ in what mends alone, the better one ends better."""
    wick = STATION | {"aids": (*STATION["aids"], "wick")}
    none = STATION | {"aids": tuple(aid for aid in STATION["aids"] if aid != "wick")}
    better, worse = (job(told(fit("SSOP-28"), bench), "fit:X1").chosen for bench in (wick, none))
    assert better.technique == worse.technique
    assert better.first_time == worse.first_time
    assert better.after_mending.mid > worse.after_mending.mid


def test_each_way_is_told_once_with_its_jobs() -> None:
    a = told(fit("TSSOP-20"), STATION)
    found = troubles(a)
    ways = [trouble.card.way for trouble in found]
    assert len(set(ways)) == len(ways)
    assert all(trouble.keys == ("fit:X1",) for trouble in found)
    heat = next(trouble for trouble in found if "flux and heat" in trouble.card.way)
    assert {"open", "disturbed"} <= set(heat.modes)


def test_lifts_and_wires_have_theirs() -> None:
    a = told(fit("TSSOP-20"), STATION)
    assert set(rescues(a.risk, a.bench, REFERENCE)) == {risk.job.key for risk in a.risk.jobs}
