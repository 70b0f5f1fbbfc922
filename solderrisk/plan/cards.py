"""Technique cards: tool, setting, steps and what to look for, for every soldered job."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.parameters import Parameters
from solderrisk.model.technique import Technique
from solderrisk.physics.results import AirCase, AirHeat, Remedy, SolderNeed
from solderrisk.plan.heat_help import Help
from solderrisk.plan.results import Card, SafetyNote
from solderrisk.risk.results import JobRisk, KitRisk, Option, Settings
from solderrisk.words import about_s, dial_c, flow_l_min, grams, stop_s

GENTLER = "lower heat, more time, or a preheated board"


def cards(
    risk: KitRisk,
    techniques: Sequence[Technique],
    needs: dict[Job, SolderNeed],
    safety: Sequence[SafetyNote],
    parameters: Parameters,
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
            parameters,
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
    parameters: Parameters,
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
        settings_lines=() if risk.blocked else tuple(_settings(job, option, need, parameters)),
        steps=known.steps if known else (),
        look_for=(*known.look_for, *accepted) if known else (),
        orientation=_orientation(job, option),
        cautions=(*_cautions(risk, option, parameters), *heat),
        safety=tuple(notes),
    )


def settings_lines(
    settings: Settings, parameters: Parameters, need: SolderNeed | None = None
) -> Iterable[str]:
    """Settings in trade words, one line each."""
    if settings.iron is not None:
        width = settings.tip_width_mm
        tip = f", {width:g} mm {settings.tip_shape} tip" if width else ""
        at = f" at {dial_c(settings.tip_c)}" if settings.tip_c else ""
        yield f"iron: {settings.iron}{tip}{at}"
    if settings.pin_tip_width_mm is not None:
        yield f"pins: {pin_tip(settings)}"
    if settings.air is not None and settings.air_c is not None:
        flow = "" if settings.flow_l_min is None else f", {flow_l_min(settings.flow_l_min)}"
        yield (
            f"air: {settings.air}, {settings.nozzle_mm:g} mm nozzle held about "
            f"{AirCase.height_mm:.0f} mm above, {dial_c(settings.air_c)}{flow}"
        )
    if settings.desolderer is not None:
        yield f"vacuum: {settings.desolderer}, {settings.bore_mm:g} mm bore"
    if settings.preheat_c is not None:
        yield f"preheat: board at {dial_c(settings.preheat_c)}"
    if settings.removal_alloy is not None:
        yield f"removal alloy: {settings.removal_alloy}"
    if settings.solder is not None:
        yield f"solder: {settings.solder}{_amount(settings.solder, need, parameters)}"
    if settings.flux is not None:
        yield f"flux: {settings.flux}"
    if settings.magnifier is not None:
        yield f"look through: {settings.magnifier} ({settings.power_x:g}x)"


def _amount(solder: str, need: SolderNeed | None, parameters: Parameters) -> str:
    if need is None:
        return ""
    if solder.endswith("paste"):
        mass_mg = 1000 * need.mass_g / parameters["paste_metal_mass_share"]
        volume_mm3 = need.volume_mm3 / parameters["paste_metal_volume_share"]
        return f", about {mass_mg:.0f} mg of paste ({volume_mm3:.1f} mm3)"
    return f", about {need.wire_mm:.0f} mm of wire" if need.wire_mm else ""


def _settings(
    job: Job, option: Option, need: SolderNeed | None, parameters: Parameters
) -> Iterable[str]:
    low = option.low_melt
    for line in settings_lines(option.settings, parameters, need):
        alloy = low is not None and line.startswith("removal alloy:")
        yield f"{line}, about {grams(low.alloy_g)}" if alloy and low else line
    yield from _time(job, option, parameters)
    if low is not None:
        yield (
            f"mixture: melts near {low.mix_liquidus_c:.0f} C, give or take "
            f"{low.mix_doubt_k:.0f} C; stays liquid about {about_s(low.molten_s)} s without heat"
        )
        times = "once" if low.cleanings == 1 else f"{low.cleanings} times"
        yield f"wick clean: {times} with fresh solder"


def _time(job: Job, option: Option, parameters: Parameters) -> Iterable[str]:
    """How long it takes, no finer than the heat model knows it."""
    air, iron, dwell_s = option.air_heat, option.iron_heat, option.settings.dwell_s
    if air is not None and air.molten_s is not None:
        first = about_s(air.molten_s if air.molten_s_low is None else air.molten_s_low)
        last = "much longer" if air.molten_s_high is None else f"{about_s(air.molten_s_high)} s"
        usual = about_s(air.molten_s)
        yield f"time: everything is liquid after about {usual} s ({first} s to {last})"
    elif iron is not None and dwell_s is not None:
        yield _dwell(about_s(dwell_s), latest_s(job, iron.safe_s, parameters))


def latest_s(job: Job, harm_s: float, parameters: Parameters) -> int:
    """When to stop: before the heat model's harm, the part's own limit and what lands of
    surface-mount parts are given in practice, whichever is first."""
    limits = [harm_s]
    if job.footprint is not None:
        limits.append(job.footprint.heat.iron_s)
        if not job.footprint.through_hole:
            limits.append(parameters["card_land_s"])
    return stop_s(*limits)


def _dwell(usual_s: int, stop: int) -> str:
    if stop < 1:
        return "time: this tip harms the joint in under 1 s: turn it down or take another"
    if usual_s > stop:
        return (
            f"time: about {usual_s} s is needed, longer than this part is usually given: stop at "
            f"{stop} s, let it cool, and get more heat there before trying again"
        )
    return f"time: about {usual_s} s per joint; not wet? stop at {stop} s and let it cool"


def pin_tip(settings: Settings) -> str:
    """The tip for the small pins of a heavy part; iron and heat where they are others."""
    tip = f"{settings.pin_tip_width_mm:g} mm {settings.pin_tip_shape} tip"
    if settings.pin_iron != settings.iron:
        tip = f"{settings.pin_iron}, {tip}"
    if settings.pin_tip_c is not None and settings.pin_tip_c != settings.tip_c:
        tip += f" at {dial_c(settings.pin_tip_c)}"
    return tip


def _orientation(job: Job, option: Option) -> str:
    if not job.polarised or job.footprint is None or job.kind != "fit":
        return ""
    mark = job.footprint.mark or "see the part's data sheet and the board's print"
    together = option.settings.air is not None or option.iron_heat is None
    return (
        f"{mark}; have it looked at again before {'any heat' if together else 'the second joint'}"
    )


def _cautions(risk: JobRisk, option: Option, parameters: Parameters) -> Iterable[str]:
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
    if not risk.blocked:
        yield from _hot_tip(job, option, parameters)
    if footprint.heat.softens_c is not None:
        yield f"its plastic softens near {footprint.heat.softens_c:.0f} C"
    yield from _heat_cautions(job, option) if not risk.blocked else ()
    yield from risk.findings


def _hot_tip(job: Job, option: Option, parameters: Parameters) -> Iterable[str]:
    tip_c, footprint = option.settings.tip_c, job.footprint
    if footprint is None or tip_c is None or option.iron_heat is None:
        return
    if tip_c <= footprint.heat.iron_c + parameters["card_tip_over_k"]:
        return
    sink = ", tweezers or a clip on the lead to carry heat away" if footprint.through_hole else ""
    yield (
        f"this tip is hotter than that: under {parameters['card_hot_tip_s']:g} s a joint{sink}, "
        "a pause between joints; or take a regulated iron"
    )


def _helped(remedies: Sequence[Remedy]) -> Iterable[str]:
    return (
        f"by the heat model {remedy.text} would give a margin of {remedy.margin_k:+.0f} K"
        for remedy in remedies
    )


def _reach(job: Job, option: Option, heat: AirHeat) -> str:
    """How far the heat goes, from the part's edge; a board that is warm all over is another
    matter than a jet."""
    body = job.footprint.body if job.footprint is not None else None
    edge_mm = 0.0 if body is None else min(body.length_mm, body.width_mm) / 2
    joints_mm, plastics_mm = (
        max(math.ceil(radius - edge_mm), 0)
        for radius in (heat.reflow_radius_mm, heat.plastic_radius_mm)
    )
    if option.settings.preheat_c is not None:
        return (
            f"the whole board is warm: take off or leave out what softens near "
            f"{heat.plastic_c:.0f} C, and mind joints within {joints_mm} mm of its edge"
        )
    return (
        f"mask or leave out plastics within {plastics_mm} mm and mind joints within "
        f"{joints_mm} mm of its edge"
    )


def _heat_cautions(job: Job, option: Option) -> Iterable[str]:
    if option.air_heat is not None:
        yield _reach(job, option, option.air_heat)
        over_k = option.air_heat.top_c - option.air_heat.limit_c
        if over_k > 0:
            yield f"its top gets over the part's limit by about {max(over_k, 1):.0f} C: {GENTLER}"
    yield from option.iron_heat.warnings if option.iron_heat else ()
    yield from option.air_heat.warnings if option.air_heat else ()
    yield from option.low_melt.warnings if option.low_melt else ()
    if not option.decided:
        yield "the heat model cannot decide this joint: test on scrap, stop when it does not wet"
