"""A bench with tools added."""

from __future__ import annotations

from typing import Any

import pytest

from solderrisk.files.reference import plan_data
from solderrisk.model.bench import Bench, Flux, Iron, Magnifier, Tip
from solderrisk.model.plan_data import (
    EXTRACTION_RANK,
    PricedTool,
    brings_something,
    with_tools,
)

STATION = Iron(name="station", drive="station", power_w=60, tips=(Tip(width_mm=1.2),))
PLAIN = Iron(name="plain", drive="plain", power_w=25, tips=(Tip(width_mm=2.0),))
BENCH = Bench(name="mine", irons=(STATION, PLAIN), aids=("wick",), extraction="fan")


def tool(price: float = 5.0, tips_for: str | None = None, **adds: Any) -> PricedTool:
    return PricedTool(
        id="t", title="t", price=price, tips_for=tips_for, adds=Bench(name="t", **adds),
        source="assumed: made for a test",
    )  # fmt: skip


def test_tools_are_added_and_the_bench_keeps_its_own() -> None:
    more = tool(
        magnifiers=(Magnifier(name="loupe", power_x=10),),
        fluxes=(Flux(kind="rosin"),),
        aids=("tweezers", "wick"),
        removal_alloys=("Sn42Bi58",),
    )
    found = with_tools(BENCH, [more])
    assert found.name == "mine"
    assert found.irons == BENCH.irons
    assert [m.name for m in found.magnifiers] == ["loupe"]
    assert found.aids == ("wick", "tweezers")
    assert found.removal_alloys == ("Sn42Bi58",)
    assert BENCH.magnifiers == ()


def test_loose_tips_go_to_irons_of_their_kind() -> None:
    wide = Tip(width_mm=3.0)
    carrier = Iron(name="any", drive="station", power_w=60, tips=(wide,))
    for kind, fitted in (
        ("any", (True, True)),
        ("station", (True, False)),
        ("cartridge", (False,) * 2),
    ):
        found = with_tools(BENCH, [tool(tips_for=kind, irons=(carrier,))])
        assert len(found.irons) == 2  # the carrier is no iron of its own
        assert tuple(wide in iron.tips for iron in found.irons) == fitted


@pytest.mark.parametrize("kind", EXTRACTION_RANK)
def test_the_better_extraction_wins(kind: str) -> None:
    found = with_tools(BENCH, [tool(extraction=kind)])
    better = EXTRACTION_RANK.index(kind) > EXTRACTION_RANK.index("fan")
    assert found.extraction == (kind if better else "fan")


def test_what_is_there_already_brings_nothing() -> None:
    assert not brings_something(BENCH, tool(aids=("wick",), extraction="open_window"))
    assert brings_something(BENCH, tool(aids=("gloves",)))
    tip = tool(tips_for="any", irons=(STATION,))
    assert brings_something(BENCH, tip)  # the plain iron had no such tip
    assert not brings_something(with_tools(BENCH, [tip]), tip)
    assert not brings_something(Bench(name="no iron"), tip)


@pytest.mark.parametrize("priced", plan_data().tools, ids=lambda priced: priced.id)
def test_every_tool_of_the_list_brings_something_to_an_iron_alone(priced: PricedTool) -> None:
    bench = Bench(name="b", irons=(PLAIN,))
    assert brings_something(bench, priced)
    assert priced.price > 0
    assert priced.source.startswith("assumed")


def test_no_tool_takes_anything_away() -> None:
    bench = BENCH
    for priced in plan_data().tools:
        more = with_tools(bench, [priced])
        for name in ("irons", "hot_air", "preheaters", "desolderers", "solders", "fluxes",
                     "magnifiers", "aids", "removal_alloys"):  # fmt: skip
            had, has = getattr(bench, name), getattr(more, name)
            if name == "irons":
                had, has = ([iron.name for iron in had], [iron.name for iron in has])
            assert set(had) <= set(has)
        bench = more
