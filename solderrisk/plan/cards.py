"""Technique cards: tool, setting, steps and what to look for, for every soldered job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.technique import Technique
from solderrisk.physics.results import Remedy, SolderNeed
from solderrisk.plan.heat_help import Help
from solderrisk.plan.results import Card, SafetyNote
from solderrisk.risk.results import JobRisk, KitRisk, Option, Settings


def cards(
    risk: KitRisk,
    techniques: Sequence[Technique],
    needs: dict[Job, SolderNeed],
    safety: Sequence[SafetyNote],
    accepted: Mapping[Job, tuple[str, ...]] | None = None,
    near: Mapping[str, tuple[str, ...]] | None = None,
    helps: Help | None = None,
) -> dict[str, Card]:
    """One card per soldered job. ``needs`` gives the solder per alike job, ``accepted`` what
    an inspector would accept of its joints; by job key, ``near`` tells what its hot air
    reaches and ``helps`` what would heat a joint in doubt."""
    by_id = {technique.id: technique for technique in techniques}
    limits = accepted or {}
    notes = _notes_by_key(safety)
    return {
        job.job.key: _card(
            job,
            by_id.get(job.chosen.technique),
            needs.get(job.job.alike),
            notes.get(job.job.key, ()),
            limits.get(job.job.alike, ()),
            (*(near or {}).get(job.job.key, ()), *_helped((helps or {}).get(job.job.key, ()))),
        )
        for job in risk.jobs
    }


def _notes_by_key(safety: Sequence[SafetyNote]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for note in safety:
        for key in note.applies_to:
            found.setdefault(key, []).append(note.id)
    return found


def _card(
    risk: JobRisk,
    technique: Technique | None,
    need: SolderNeed | None,
    notes: Sequence[str],
    accepted: tuple[str, ...],
    heat: tuple[str, ...],
) -> Card:
    job, option = risk.job, risk.chosen
    verb = {"lift": "Lift", "fit": "Fit", "wire": "Wire"}[job.kind]
    # A way that is not open on this bench has no settings and no steps to show.
    known = technique if not risk.blocked else None
    return Card(
        key=job.key,
        title=f"{verb} {job.ref}: {job.title}",
        technique=option.title,
        settings_lines=() if risk.blocked else tuple(_settings(option, need)),
        steps=known.steps if known else (),
        look_for=(*known.look_for, *accepted) if known else (),
        orientation=_orientation(job),
        cautions=(*_cautions(risk, option), *heat),
        safety=tuple(notes),
    )


def settings_lines(settings: Settings, need: SolderNeed | None = None) -> Iterable[str]:
    """Settings in trade words, one line each."""
    if settings.iron is not None:
        width = settings.tip_width_mm
        tip = f", {width:g} mm {settings.tip_shape} tip" if width else ""
        at = f" at {settings.tip_c:.0f} C" if settings.tip_c else ""
        yield f"iron: {settings.iron}{tip}{at}"
    if settings.pin_tip_width_mm is not None:
        yield f"pins: {pin_tip(settings)}"
    if settings.air is not None:
        yield (
            f"air: {settings.air}, {settings.nozzle_mm:g} mm nozzle, {settings.air_c:.0f} C, "
            f"{settings.flow_l_min:.0f} l/min"
        )
    if settings.desolderer is not None:
        yield f"vacuum: {settings.desolderer}, {settings.bore_mm:g} mm bore"
    if settings.preheat_c is not None:
        yield f"preheat: board at {settings.preheat_c:.0f} C"
    if settings.removal_alloy is not None:
        yield f"removal alloy: {settings.removal_alloy}"
    if settings.solder is not None:
        amount = f", about {need.wire_mm:.0f} mm of wire" if need and need.wire_mm else ""
        yield f"solder: {settings.solder}{amount}"
    if settings.flux is not None:
        yield f"flux: {settings.flux}"
    if settings.magnifier is not None:
        yield f"look through: {settings.magnifier} ({settings.power_x:g}x)"


def _settings(option: Option, need: SolderNeed | None) -> Iterable[str]:
    yield from settings_lines(option.settings, need)
    yield from _time(option)
    low = option.low_melt
    if low is not None:
        yield (
            f"mixture: melts near {low.mix_liquidus_c:.0f} C, give or take "
            f"{low.mix_doubt_k:.0f} C; stays liquid about {low.molten_s:.0f} s without heat"
        )
        times = "once" if low.cleanings == 1 else f"{low.cleanings} times"
        yield f"wick clean: {times} with fresh solder"


def _time(option: Option) -> Iterable[str]:
    """How long it takes, no finer than the heat model knows it."""
    air, iron, dwell_s = option.air_heat, option.iron_heat, option.settings.dwell_s
    if air is not None and air.molten_s is not None:
        last = f"{air.molten_s_high:.0f} s" if air.molten_s_high else "much longer"
        first = air.molten_s if air.molten_s_low is None else air.molten_s_low
        yield f"time: everything is liquid after about {first:.0f} s to {last}"
    elif iron is not None and dwell_s is not None:
        longest = f"; let go after {iron.safe_s:.0f} s at the latest" if iron.safe_s >= 1 else ""
        yield f"time: about {max(dwell_s, 1.0):.0f} s per joint{longest}"


def pin_tip(settings: Settings) -> str:
    """The tip for the small pins of a heavy part; iron and heat where they are others."""
    tip = f"{settings.pin_tip_width_mm:g} mm {settings.pin_tip_shape} tip"
    if settings.pin_iron != settings.iron:
        tip = f"{settings.pin_iron}, {tip}"
    if settings.pin_tip_c is not None and settings.pin_tip_c != settings.tip_c:
        tip += f" at {settings.pin_tip_c:.0f} C"
    return tip


def _orientation(job: Job) -> str:
    if not job.polarised or job.footprint is None or job.kind != "fit":
        return ""
    mark = job.footprint.mark or "see the part's data sheet and the board's print"
    return f"{mark}; have it looked at again before the second joint"


def _cautions(risk: JobRisk, option: Option) -> Iterable[str]:
    job, footprint = risk.job, risk.job.footprint
    if footprint is None:
        return
    if job.irreplaceable:
        yield "cannot be bought again: try the technique on scrap first"
    yield (
        f"the usual limit of this kind of part: tip {footprint.heat.iron_c:.0f} C for "
        f"{footprint.heat.iron_s:g} s, body {footprint.heat.body_c:.0f} C; "
        "its data sheet goes first"
    )
    if footprint.heat.softens_c is not None:
        yield f"its plastic softens near {footprint.heat.softens_c:.0f} C"
    yield from _heat_cautions(option) if not risk.blocked else ()
    yield from risk.findings


def _helped(remedies: Sequence[Remedy]) -> Iterable[str]:
    return (
        f"by the heat model {remedy.text} would give a margin of {remedy.margin_k:+.0f} K"
        for remedy in remedies
    )


def _heat_cautions(option: Option) -> Iterable[str]:
    if option.air_heat is not None:
        yield (
            f"mask or leave out plastics within {option.air_heat.plastic_radius_mm:.0f} mm and "
            f"mind joints within {option.air_heat.reflow_radius_mm:.0f} mm of its centre"
        )
    yield from option.iron_heat.warnings if option.iron_heat else ()
    yield from option.air_heat.warnings if option.air_heat else ()
    yield from option.low_melt.warnings if option.low_melt else ()
    if not option.decided:
        yield "the heat model cannot decide this joint: test on scrap, stop when it does not wet"
