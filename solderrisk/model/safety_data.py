"""Safety notes: what they say, and the work that calls for them."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.bench import Aid
from solderrisk.model.footprint import Family

Extraction = Literal["none", "open_window", "fan", "filter_box", "arm", "tip"]
Metal = Literal["Ag", "Bi", "Cd", "Cu", "In", "Pb", "Sn", "Sb", "Zn"]
FluxKind = Literal["rosin", "no_clean", "water_soluble", "acid"]


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
    techniques: Many[Text] = Field((), description="ids of techniques")
    families: Many[Family] = ()
    metals: Many[Metal] = Field((), description="in the alloy of the joint")
    task_kinds: Many[Text] = ()
    gate_kinds: Many[Text] = ()
    donor_conditions: Many[Text] = ()
    words: Many[Text] = Field((), description="whole words in titles, notes and names")


class BenchWhen(Condition):
    """What on the bench calls for a note or a line, whatever the work is. All that is set
    must hold; of a list, any one does."""

    aids: Many[Aid] = ()
    aids_missing: Many[Aid] = ()
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
