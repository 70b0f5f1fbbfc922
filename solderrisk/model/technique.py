"""Techniques: named ways of making and undoing joints, and the tools they ask for."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, PositiveMm, Share, Source, Text
from solderrisk.model.bench import FluxKind, TipShape
from solderrisk.model.footprint import Family, Footprint, PadGroup, PadKind

STENCIL = "stencil"  # the need of paste that a syringe cannot lay
Heat = Literal["iron", "preheated_iron", "air", "plate", "vacuum", "low_melt"]


class Suits(Frozen):
    """What a technique can be used for. Every pad group must be of ``kinds`` and at least
    one of ``main`` (any of ``kinds`` if unset)."""

    kinds: Many[PadKind] = Field(min_length=1)
    main: Many[PadKind] = ()
    families: Many[Family] = Field((), description="only these, if any are named")
    not_families: Many[Family] = ()
    pitch_from_mm: PositiveMm | None = None
    pitch_below_mm: PositiveMm | None = None
    joints_from: int = Field(1, ge=1)
    joints_to: int = Field(4000, ge=1)
    holes: bool | None = Field(None, description="with holes only, or without; None: either")


class TipRule(Frozen):
    """Which tips will do: ``shapes`` in order of preference, widths, and whether the tip may
    touch one land alone. ``strongest``: the strongest iron's widest tip goes first."""

    id: Text
    title: Text
    shapes: Many[TipShape] = Field(min_length=1)
    from_mm: PositiveMm | None = None
    to_mm: PositiveMm | None = None
    alone: bool = False
    strongest: bool = False
    source: Source


class HandPaste(Frozen):
    """Paste laid from a syringe where the bench has no stencil. Parts of more joints (solder
    balls not counted) than ``joints_to`` ask for a stencil; ``factors`` multiply hazards of
    fine parts: pitch below ``fine_below_mm``, or more joints than ``few_to``."""

    joints_to: int = Field(ge=1)
    few_to: int = Field(ge=1)
    fine_below_mm: PositiveMm
    factors: dict[Text, float]

    def fine(self, footprint: Footprint) -> bool:
        pitch = footprint.pitch_mm
        return (pitch is not None and pitch < self.fine_below_mm) or (
            _pasted(footprint) > self.few_to
        )

    def asks_stencil(self, footprint: Footprint) -> bool:
        return _pasted(footprint) > self.joints_to


class LeavesOpen(Frozen):
    """Joints that a technique does not make. ``needed_share``: of such parts, those that do
    not work without them."""

    kinds: Many[PadKind] = Field(min_length=1)
    needed_share: Share


def _pasted(footprint: Footprint) -> int:
    """Joints that need paste: balls bring their own solder."""
    return sum(group.count for group in footprint.pads if group.kind != "ball")


class Technique(Frozen):
    """One way of working.

    ``needs`` lists groups of needs; one of each group must be met by the bench.
    ``factors`` multiply the hazards of fault modes. ``tries`` is how often the part is set
    straight before more than a tack holds it; ``self_aligns`` that molten solder pulls it
    straight. ``holds`` says that the part cannot move while joints freeze.
    ``shared_set_up`` says that one set-up does all parts of a board's side that suit.
    ``tip`` names the rule for tips on the main joints and ``other_tip`` on the rest,
    ``solder`` what is put on, ``flux`` what kind is reached for: one that stays where heat
    or a sweep would drive it off, or any.
    """

    id: Text
    title: Text
    short: Text
    purpose: Literal["fit", "lift", "wire"]
    heat: Heat
    suits: Suits
    needs: Many[Many[Text]]
    lifted_needs: Many[Many[Text]] = Field((), description="more, for a part lifted before")
    skill: Text
    tip: Text = "fits"
    other_tip: Text = "fits"
    solder: Literal["wire", "paste", "none"] = "wire"
    flux: Literal["tacky", "any"] = "any"
    tries: int = Field(2, ge=1, le=20)
    self_aligns: bool = False
    holds: bool = True
    factors: dict[Text, float] = Field(default_factory=dict)
    hand_paste: HandPaste | None = None
    leaves_open: LeavesOpen | None = None
    set_up_minutes: float = Field(ge=0, le=240, description="for all equal parts in one go")
    part_minutes: float = Field(0.0, ge=0, le=240, description="place, bend, cut; for each part")
    shared_set_up: bool = False
    joint_minutes: float = Field(ge=0, le=60)
    consumables: float = Field(0.0, ge=0, description="money per use, in the kit's currency")
    steps: Many[Text] = Field(min_length=1)
    lifted_steps: Many[Text] = Field((), description="first, for a part lifted before")
    look_for: Many[Text] = Field(min_length=1)
    look_in_holes: Many[Text] = Field((), description="first, where holes are plated")
    source: Source

    def looks_for(self, barrels: bool) -> tuple[str, ...]:
        """What to look for; ``barrels``: the board's holes are plated."""
        return (*self.look_in_holes, *self.look_for) if barrels else self.look_for

    def makes(self, group: PadGroup) -> bool:
        """Whether it makes, or undoes, these joints at all."""
        return self.leaves_open is None or group.kind not in self.leaves_open.kinds

    def factor(self, mode: str) -> float:
        return self.factors.get(mode, 1.0)

    def needs_for(self, footprint: Footprint, lifted: bool) -> tuple[tuple[str, ...], ...]:
        """``needs``, those of a part that was lifted before, and a stencil where paste from
        a syringe will not do."""
        more = self.lifted_needs if lifted else ()
        stencil = self.hand_paste is not None and self.hand_paste.asks_stencil(footprint)
        return (*self.needs, *more, (STENCIL,)) if stencil else (*self.needs, *more)

    def steps_for(self, lifted: bool) -> tuple[str, ...]:
        return (*self.lifted_steps, *self.steps) if lifted else self.steps


class TipLike(Frozen):
    """A tip on any iron. ``wide_from``: the parameter of ``risk.yaml`` that says how wide."""

    shapes: Many[TipShape] = Field((), description="any of these; any at all if unset")
    wide_from: Text | None = None


class MetWhen(Frozen):
    """What of a bench meets a need: any one thing that is named here."""

    any_of: Many[
        Literal["irons", "hot_air", "preheaters", "hot_plates", "desolderers", "removal_alloys"]
    ] = ()
    tips: TipLike | None = None
    solder: Literal["wire", "paste"] | None = None
    fluxes: Many[FluxKind] = ()
    aids: Many[Text] = Field((), description="names that tools.yaml knows")

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not any(getattr(self, name) for name in type(self).model_fields):
            raise ValueError("must name something; it would never be met")
        return self


class Need(Frozen):
    """Something a technique asks of the bench. ``met_by`` names purchasable tools."""

    id: Text
    title: Text
    met_when: MetWhen
    met_by: Many[Text] = ()


class TechniqueData(Frozen):
    """``techniques.yaml``. ``boosters``: tools that help where needs are met and heat or
    shape still fails, by kind of heating."""

    needs: Many[Need] = Field(min_length=1)
    tips: Many[TipRule] = Field(min_length=1)
    boosters: dict[Heat, Many[Text]] = Field(default_factory=dict)
    techniques: Many[Technique] = Field(min_length=1)

    def tip_rule(self, rule_id: str) -> TipRule:
        return next(rule for rule in self.tips if rule.id == rule_id)

    def need(self, need_id: str) -> Need:
        return next(need for need in self.needs if need.id == need_id)
