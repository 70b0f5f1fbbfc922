"""Things a builder can add: tools with a price, and how a bench looks with them."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.bench import Bench, Iron

EXTRACTION_RANK = ("none", "open_window", "fan", "filter_box", "arm", "tip")


class PricedTool(Frozen):
    """A purchase. ``adds`` holds only what it brings to a bench; ``tips_for`` marks loose
    tips, which go to the bench's irons of that kind."""

    id: Text
    title: Text
    called: str = Field("", max_length=60, description="its name in a sentence; title if unset")
    price: float = Field(ge=0, le=100_000)
    adds: Bench
    tips_for: Text | None = None
    source: Source


class PricedTools(Frozen):
    """``tools.yaml``."""

    tools: Many[PricedTool] = Field(min_length=1)


def with_tools(bench: Bench, tools: Iterable[PricedTool]) -> Bench:
    """The bench with some tools added; the best extraction wins."""
    for tool in tools:
        bench = _merged(bench, tool)
    return bench


def _merged(bench: Bench, tool: PricedTool) -> Bench:
    more = tool.adds
    irons = bench.irons
    if tool.tips_for is not None:
        irons = tuple(_with_tips(iron, more, tool.tips_for) for iron in irons)
    else:
        irons = (*irons, *more.irons)
    return bench.model_copy(
        update={
            "irons": irons,
            "hot_air": bench.hot_air + more.hot_air,
            "preheaters": bench.preheaters + more.preheaters,
            "desolderers": bench.desolderers + more.desolderers,
            "solders": bench.solders + more.solders,
            "removal_alloys": tuple(dict.fromkeys(bench.removal_alloys + more.removal_alloys)),
            "fluxes": bench.fluxes + more.fluxes,
            "magnifiers": bench.magnifiers + more.magnifiers,
            "aids": tuple(dict.fromkeys(bench.aids + more.aids)),
            "extraction": max(bench.extraction, more.extraction, key=EXTRACTION_RANK.index),
        }
    )


def _with_tips(iron: Iron, more: Bench, drive: str) -> Iron:
    if drive not in (iron.drive, "any"):
        return iron
    tips = tuple(dict.fromkeys(iron.tips + tuple(tip for i in more.irons for tip in i.tips)))
    return iron.model_copy(update={"tips": tips})


def brings_something(bench: Bench, tool: PricedTool) -> bool:
    """Whether the bench differs once the tool is there."""
    return with_tools(bench, [tool]) != bench
