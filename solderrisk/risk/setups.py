"""A technique set up on a bench from what the heat model answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from solderrisk.model.bench import Bench, VacuumDesolderer, VacuumNozzle
from solderrisk.model.footprint import PadGroup
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.low_melt import low_melt_lift
from solderrisk.physics.results import AirHeat, IronHeat, LowMeltLift
from solderrisk.physics.tool_fit import vacuum_fits
from solderrisk.risk.heat_choice import AirAnswer, IronAnswer, allowed, rounded, starts_of
from solderrisk.risk.results import Settings
from solderrisk.risk.work import Work

HIDDEN = ("exposed", "ball")
WIDE = "wide"  # the rule for tips that heavy tabs take
NO_SETTINGS = Settings()


@dataclass(frozen=True)
class Setup:
    """A technique set up for a piece of work on a bench. ``windows`` and ``over_s`` go with
    the footprint's pad groups; None where no tip touches them. ``missing`` empty: feasible."""

    technique: Technique
    missing: tuple[str, ...] = ()
    why: str = ""
    settings: Settings = NO_SETTINGS
    windows: tuple[float | None, ...] = ()
    over_s: float = 0.0
    iron_heat: IronHeat | None = None
    air_heat: AirHeat | None = None
    low_melt: LowMeltLift | None = None
    decided: bool = True

    @property
    def feasible(self) -> bool:
        return not self.missing


def by_iron(
    base: Setup, answers: list[IronAnswer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    failed = [a for a in answers if not a.feasible]
    if failed:
        return _too_weak(base, failed, reference)
    hidden = [g.name for g in work.footprint.pads if g.kind in HIDDEN]
    if hidden or not work.footprint.hand_iron:
        where = ", ".join(hidden) or "its joints"
        return replace(base, missing=("a way to heat joints under the body",), why=(
            f"no iron reaches {where}"
        ))  # fmt: skip
    done = _with_iron(base, _leading(base, answers, work), answers, bench)
    small = (not own for own in heavy(base.technique, work))
    return _with_pins(done, _most(answers, work, small))


def _with_pins(base: Setup, pins: IronAnswer | None) -> Setup:
    """Small pins of a heavy part take a tip of their own."""
    if pins is None or pins.case is None:
        return base
    case, had = pins.case, base.settings
    if (case.iron.name, case.tip.width_mm, case.tip.shape) == (
        had.iron,
        had.tip_width_mm,
        had.tip_shape,
    ):
        return base
    settings = replace(
        had,
        pin_iron=case.iron.name,
        pin_tip_width_mm=case.tip.width_mm,
        pin_tip_shape=case.tip.shape,
        pin_tip_c=case.tip_c,
    )
    return replace(base, settings=settings)


def _leading(base: Setup, answers: list[IronAnswer], work: Work) -> IronAnswer:
    """The answer of the joints that there are most of; of heavy tabs where a technique's
    wide tip is for them."""
    return _most(answers, work, heavy(base.technique, work)) or answers[0]


def heavy(technique: Technique, work: Work) -> tuple[bool, ...]:
    """Which pad groups take the technique's own tip; others take one that fits them."""
    main = technique.suits.main or technique.suits.kinds
    return tuple(technique.tip != WIDE or g.kind in main for g in work.footprint.pads)


def _most(answers: list[IronAnswer], work: Work, chosen: Iterable[bool]) -> IronAnswer | None:
    groups = zip(answers, work.footprint.pads, chosen, strict=True)
    counted = [(group.count, answer) for answer, group, wanted in groups if wanted]
    return max(counted, key=lambda pair: pair[0])[1] if counted else None


def _too_weak(base: Setup, failed: list[IronAnswer], reference: Reference) -> Setup:
    worst = min(failed, key=lambda a: a.heat.margin_k if a.heat else float("-inf"))
    if worst.heat is None:
        what = reference.risk.technique_data.tip_rule(base.technique.tip).title
        return replace(base, missing=(what,), why=worst.why)
    return replace(base, missing=("more heat at the joint",), why=worst.why, iron_heat=worst.heat)


def _with_iron(base: Setup, lead: IronAnswer, answers: list[IronAnswer], bench: Bench) -> Setup:
    case, heat = lead.case, lead.heat
    if case is None or heat is None:
        return base
    others = [
        a.why for a in answers
        if a.case is not None and a.case.tip != case.tip and a.case.joint != case.joint
    ]  # fmt: skip
    also = f"; for its other joints {others[0]}" if others else ""
    worst = min((a.heat for a in answers if a.heat), key=lambda h: h.margin_k - h.band_k)
    hot = max(a.case.start_c for a in answers if a.case)
    settings = replace(
        base.settings,
        iron=case.iron.name,
        tip_width_mm=case.tip.width_mm,
        tip_shape=case.tip.shape,
        tip_c=case.tip_c,
        preheat_c=hot if hot > bench.room.ambient_c else None,
        dwell_s=heat.dwell_s,
    )
    return replace(
        base,
        why=lead.why + also,
        settings=settings,
        windows=tuple(max(a.window, 1.0) for a in answers),
        over_s=max(a.over_s for a in answers),
        iron_heat=worst,
        decided=all(a.heat is not None and a.heat.decision == "wets" for a in answers),
    )


def by_vacuum(
    base: Setup, answers: list[IronAnswer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    groups = work.footprint.pads
    if len(answers) < len(groups):
        why = next(
            reason
            for group in groups
            if (reason := _no_nozzle(bench.desolderers, group, reference))
        )
        return replace(base, missing=("a nozzle that goes over the lead",), why=why)
    failed = [a for a in answers if not a.feasible]
    if failed:
        return _too_weak(base, failed, reference)
    lead = _leading(base, answers, work)
    done = _with_iron(base, lead, answers, bench)
    nozzle = _nozzle_of(bench.desolderers, lead)
    return replace(done, settings=replace(
        done.settings,
        iron=None,
        tip_shape=None,
        tip_width_mm=None,
        desolderer=lead.case.iron.name if lead.case else None,
        bore_mm=nozzle.bore_mm if nozzle else None,
    ))  # fmt: skip


def _nozzle_of(tools: Iterable[VacuumDesolderer], answer: IronAnswer) -> VacuumNozzle | None:
    if answer.case is None:
        return None
    name, outer = answer.case.iron.name, answer.case.tip.width_mm
    return next(
        (n for tool in tools if tool.name == name for n in tool.nozzles if n.outer_mm == outer),
        None,
    )


def _no_nozzle(
    tools: Iterable[VacuumDesolderer], group: PadGroup, reference: Reference
) -> str | None:
    fits = [vacuum_fits(n, group, reference.physics) for tool in tools for n in tool.nozzles]
    if any(fit.fits for fit in fits):
        return None
    return f"{group.name}: {fits[-1].why}" if fits else f"{group.name}: no nozzle"


def by_air(base: Setup, answer: AirAnswer | None, bench: Bench) -> Setup:
    if answer is None or answer.heat is None or answer.case is None or answer.air is None:
        return replace(base, missing=("a nozzle that suits the part",), why="no nozzle suits")
    if not answer.feasible:
        return replace(
            base, missing=("more heat from below",), why=answer.why, air_heat=answer.heat
        )
    case = answer.case
    settings = replace(
        base.settings,
        air=answer.air.name,
        nozzle_mm=case.nozzle_mm,
        air_c=case.air_c,
        flow_l_min=case.flow_l_min,
        preheat_c=case.start_c if case.start_c > bench.room.ambient_c else None,
        dwell_s=answer.heat.molten_s,
    )
    return replace(
        base,
        why=answer.why,
        settings=settings,
        air_heat=answer.heat,
        decided=answer.heat.decision == "wets",
    )


def _flood_tip(base: Setup, flood: LowMeltLift, bench: Bench, reference: Reference) -> Settings:
    """A tip that carries a bead, no hotter than the mixture needs: a hot tip chars the flux."""
    data = reference.risk.parameters
    rule = reference.risk.technique_data.tip_rule(base.technique.tip)
    order = sorted(bench.irons, key=lambda iron: -iron.power_w)
    pairs = [(iron, tip) for iron in order for tip in iron.tips]
    if not pairs:
        return base.settings
    # Any tip spreads the alloy in the end; the rule says which is best at it.
    iron, tip = max(pairs, key=lambda p: (allowed(p[1], rule), p[0].power_w, p[1].width_mm))
    wanted = rounded(flood.mix_liquidus_c + data["flood_tip_over_k"], data["tip_round_k"])
    tip_c = min(max(wanted, iron.lowest_c), iron.highest_c)
    if iron.drive == "plain":
        tip_c = reference.physics.parameters["plain_idle_c"]
    return replace(
        base.settings,
        iron=iron.name,
        tip_width_mm=tip.width_mm,
        tip_shape=tip.shape,
        tip_c=tip_c,
    )


def by_plate(base: Setup, work: Work, reference: Reference) -> Setup:
    liquidus = reference.physics.alloys[work.alloy].liquidus_c
    peak = liquidus + reference.risk.parameters["plate_over_liquidus_k"]
    limits = [work.footprint.heat.body_c]
    if work.footprint.heat.softens_c is not None:
        limits.append(work.footprint.heat.softens_c)
    if peak > min(limits):
        why = f"the board's peak of {peak:.0f} C is above the part's {min(limits):.0f} C"
        return replace(base, missing=("a cooler way to heat it",), why=why)
    return replace(base, why=f"whole board to about {peak:.0f} C")


def by_low_melt(base: Setup, work: Work, bench: Bench, reference: Reference) -> Setup:
    hidden = [g.name for g in work.footprint.pads if g.kind in HIDDEN]
    tried = [
        (
            alloy,
            low_melt_lift(work.footprint, work.board, work.alloy, alloy, reference.physics, start),
        )
        for alloy in bench.removal_alloys
        for start in starts_of(bench)
    ]
    if hidden or not tried:
        why = f"the alloy does not flow under the body to {', '.join(hidden)}"
        return replace(base, missing=("a way to heat joints under the body",), why=why)
    alloy, best = max(tried, key=lambda pair: (pair[1].feasible, pair[1].molten_s))
    if not best.feasible:
        return replace(base, missing=("a removal alloy that stays liquid",), why=best.why,
                       low_melt=best)  # fmt: skip
    settings = replace(_flood_tip(base, best, bench, reference), removal_alloy=alloy)
    return replace(base, why=f"{alloy}: {best.why}", settings=settings, low_melt=best)
