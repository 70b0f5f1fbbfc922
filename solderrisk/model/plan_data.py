"""What the plan layer reads: priced tools, exercises, safety notes, order and cost parameters."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Parameter, Parameters, Source, Text
from solderrisk.model.bench import Bench, FluxKind, Iron, Level
from solderrisk.model.footprint import Families, Family
from solderrisk.model.technique import Heat

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
    aids: Many[Text] = Field((), description="aids without a price")

    @property
    def known_aids(self) -> tuple[str, ...]:
        """Every aid that a bench may list."""
        added = (aid for tool in self.tools for aid in tool.adds.aids)
        return tuple(dict.fromkeys((*added, *self.aids)))


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
            "hot_plates": bench.hot_plates + more.hot_plates,
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


class Exercise(Frozen):
    """One rung of the ladder. ``shows`` is the level that its pass mark claims; ``unlocks``
    names techniques, ``notes`` the safety notes to acknowledge first."""

    id: Text
    title: Text
    skill: Text
    shows: Level
    after: Many[Text] = ()
    material: Text
    steps: Many[Text] = Field(min_length=1)
    joints_per_part: int = Field(1, ge=1, le=2000, description="joints of one practice part")
    least_parts: int = Field(1, ge=1, le=100, description="fewest parts of a pass mark")
    whole_part: bool = Field(
        False, description="a fault spoils the part: it counts once per part, as in lifting"
    )
    joint_minutes: float = Field(gt=0, le=30)
    joint_price: float = Field(ge=0, le=100)
    unlocks: Many[Text] = ()
    notes: Many[Text] = ()
    source: Source


class PracticeData(Frozen):
    """``practice.yaml``: the ladder and the confidence its pass marks carry."""

    confidence: float = Field(gt=0.5, lt=1)
    confidence_source: Source
    amounts: Many[int] = Field(min_length=1, description="joints that the advice may suggest")
    amounts_source: Source
    exercises: Many[Exercise] = Field(min_length=1)


Extraction = Literal["none", "open_window", "fan", "filter_box", "arm", "tip"]
Metal = Literal["Ag", "Bi", "Cd", "Cu", "In", "Pb", "Sn", "Sb", "Zn"]


class Condition(Frozen):
    """Something must be asked for: an empty condition would hold always."""

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not any(getattr(self, name) for name in type(self).model_fields):
            raise ValueError("a condition must name something")
        return self


class When(Condition):
    """Work that calls for a note. All that is set must hold; of a list, any one does."""

    kinds: Many[Literal["lift", "fit", "wire", "task", "gate"]] = ()
    heats: Many[Heat] = Field((), description="what the chosen technique heats with")
    skills: Many[Text] = Field((), description="that the chosen technique asks for")
    families: Many[Family] = ()
    preheated: bool = Field(False, description="the board is kept warm from below")
    metals: Many[Metal] = Field((), description="in the alloy of the joint or the solder in hand")
    task_kinds: Many[Text] = ()
    gate_kinds: Many[Text] = ()
    donor_conditions: Many[Text] = ()
    words: Many[Text] = Field((), description="whole words in titles, notes and names")


class BenchWhen(Condition):
    """What on the bench calls for a note or a line, whatever the work is. All that is set
    must hold; of a list, any one does."""

    aids: Many[Text] = ()
    aids_missing: Many[Text] = ()
    extraction: Many[Extraction] = ()
    flux_kinds: Many[FluxKind] = ()
    removal_metals: Many[Metal] = Field((), description="in a removal alloy at hand")
    solder_metals: Many[Metal] = Field((), description="in solder at hand")


class ExtraLine(Frozen):
    """A line that is added to a note for some benches."""

    text: Text
    when: BenchWhen


class Note(Frozen):
    """One note. It applies to every job that meets one of ``when``, and as a whole when
    the bench meets one of ``bench``."""

    id: Text
    title: Text
    text: Many[Text] = Field(min_length=1)
    extra: Many[ExtraLine] = ()
    acknowledge: bool = False
    when: Many[When] = ()
    bench: Many[BenchWhen] = ()
    source: Source

    @model_validator(mode="after")
    def _reachable(self) -> Self:
        if not self.when and not self.bench:
            raise ValueError(f"{self.id}: nothing calls for this note")
        return self


class SafetyData(Frozen):
    """``safety.yaml``. ``closing`` ends every note."""

    closing: Text
    notes: Many[Note] = Field(min_length=1)

    @model_validator(mode="after")
    def _once(self) -> Self:
        ids = [note.id for note in self.notes]
        if len(set(ids)) != len(ids):
            raise ValueError("two notes have the same id")
        return self


class JournalData(Parameters):
    """``journal.yaml``. ``letters``: the key of each fault mode while building; ``rates``:
    the number of ``risk.yaml`` that a mode's chance is proportional to."""

    letters: dict[Text, Annotated[str, Field(pattern="^[A-Za-z]$")]]
    rates: dict[Text, Text]

    @model_validator(mode="after")
    def _letters_once(self) -> Self:
        if len(set(self.letters.values())) != len(self.letters):
            raise ValueError("two fault modes have the same letter")
        return self


class PooledShare(Frozen):
    """Somebody's part in pooled rates, by the ``mark`` of their share; ``without``: the factor
    by which a rate differs where it is left out."""

    mark: Text
    without: dict[Text, Annotated[float, Field(gt=0, le=1000)]] = Field(default_factory=dict)


class PooledRates(Frozen):
    """A rates file: numbers of ``risk.yaml`` from many people's records."""

    rates: dict[Text, Parameter] = Field(min_length=1)
    shares: Many[PooledShare] = ()


@dataclass(frozen=True)
class PlanData:
    """``plan.yaml``, ``tools.yaml``, ``practice.yaml``, ``safety.yaml`` and ``journal.yaml``
    as values."""

    parameters: Parameters
    costs: Parameters
    tools: tuple[PricedTool, ...]
    practice: PracticeData
    safety: SafetyData
    families: Families
    journal: JournalData
    aids: tuple[str, ...] = ()  # every aid that a bench may list
