"""Technique cards: tool, setting, steps and what to look for, for every soldered job."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.parameters import Parameters
from solderrisk.model.technique import Technique
from solderrisk.physics.results import AirHeat, Remedy, SolderNeed
from solderrisk.plan.heating import Help
from solderrisk.plan.results import Card, SafetyNote
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JobRisk, KitRisk, Line, Option, Settings
from solderrisk.words import about_s, dial_c, stop_s

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
        work=f"{verb} {job.ref}",
        what=job.title,
        technique=option.title,
        settings=() if risk.blocked else tuple(_settings(job, option, need, parameters)),
        steps=known.steps if known else (),
        look_for=(*known.look_for, *accepted) if known else (),
        orientation=_orientation(job, option),
        cautions=(*_cautions(risk, option, parameters), *heat),
        safety=tuple(notes),
    )


def settings_of(
    option: Option, parameters: Parameters, need: SolderNeed | None = None
) -> Iterator[Line]:
    """Settings in trade words: labels and values."""
    settings = option.settings
    if option.heat is not None:
        yield from SOURCES[option.heat].lines(option)
    if settings.preheat_c is not None:
        yield "preheat", f"board at {dial_c(settings.preheat_c)}"
    if settings.solder is not None:
        yield "solder", f"{settings.solder}{_amount(settings, need, parameters)}"
    if settings.flux is not None:
        yield "flux", settings.flux
    if settings.magnifier is not None:
        yield "look through", f"{settings.magnifier} ({settings.power_x:g}x)"


def _amount(settings: Settings, need: SolderNeed | None, parameters: Parameters) -> str:
    if need is None:
        return ""
    if settings.wire_mm is None:
        mass_mg = 1000 * need.mass_g / parameters["paste_metal_mass_share"]
        volume_mm3 = need.volume_mm3 / parameters["paste_metal_volume_share"]
        return f", about {mass_mg:.0f} mg of paste ({volume_mm3:.1f} mm3)"
    return f", about {need.wire_mm:.0f} mm of wire" if need.wire_mm else ""


def _settings(
    job: Job, option: Option, need: SolderNeed | None, parameters: Parameters
) -> Iterator[Line]:
    yield from settings_of(option, parameters, need)
    for text in _time(job, option, parameters):
        yield "time", text
    if option.heat is not None:
        yield from SOURCES[option.heat].last_lines(option)


def _time(job: Job, option: Option, parameters: Parameters) -> Iterable[str]:
    """How long it takes, no finer than the heat model knows it."""
    air, iron, dwell_s = option.air_heat, option.iron_heat, option.settings.dwell_s
    if air is not None and air.molten_s is not None:
        first = about_s(air.molten_s if air.molten_s_low is None else air.molten_s_low)
        last = "much longer" if air.molten_s_high is None else f"{about_s(air.molten_s_high)} s"
        usual = about_s(air.molten_s)
        yield f"everything is liquid after about {usual} s ({first} s to {last})"
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
        return "this tip harms the joint in under 1 s: turn it down or take another"
    if usual_s > stop:
        return (
            f"about {usual_s} s is needed, longer than this part is usually given: stop at "
            f"{stop} s, let it cool, and get more heat there before trying again"
        )
    return f"about {usual_s} s per joint; not wet? stop at {stop} s and let it cool"


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
