"""Technique cards, and the cards of rescue."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from solderrisk.model.base import Parameters
from solderrisk.model.bench import Bench, Flux, Solder
from solderrisk.model.footprint import Footprint, HeatLimit
from solderrisk.model.jobs import Job
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import FaultMode, Rescue
from solderrisk.model.technique import Technique
from solderrisk.physics.results import AirHeat, Remedy
from solderrisk.plan.heating import Help, remedy_words
from solderrisk.plan.results import Card, RescueCard, SafetyNote, SolderUse
from solderrisk.risk.detection import able, known_ways, lacks
from solderrisk.risk.heat.bench import WASHED
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JobRisk, JointHeat, KitRisk, Line, Option
from solderrisk.words import about_s, dial_c, note_words, plain, stop_s


def rescues(risk: KitRisk, bench: Bench, reference: Reference) -> dict[str, tuple[RescueCard, ...]]:
    """A card for every fault that may befall a soldered job, by its key: what this bench can
    do, or what it would take."""
    kept: dict[Footprint, tuple[RescueCard, ...]] = {}
    can = able(bench, reference)
    found = {}
    for item in risk.jobs:
        footprint = item.job.footprint
        if footprint is None:
            continue
        if footprint not in kept:
            kept[footprint] = tuple(
                _card(reference.risk.faults[mode], ways, can, bench, reference)
                for mode, ways in known_ways(footprint, reference)
            )
        found[item.job.key] = kept[footprint]
    return found


def _card(
    mode: FaultMode, ways: Sequence[Rescue], can: Collection[str], bench: Bench,
    reference: Reference,
) -> RescueCard:  # fmt: skip
    """The way that mends most here; where none is open, the best one with what it lacks."""
    open_ = [way for way in ways if way.id in can]
    way = max(open_, key=lambda way: way.share) if open_ else ways[0]
    return RescueCard(
        mode.id,
        mode.title,
        way.title,
        way.steps,
        way.risks,
        reference.risk.rescue.tries,
        way.stop,
        way.lost,
        way.source,
        () if open_ else tuple(lacks(way, bench, reference)),
    )


SHEET = "a data sheet goes first"
TOUCH_MM = 1.5  # less wire than this is told as a touch


def cards(
    risk: KitRisk,
    reference: Reference,
    uses: Mapping[str, Sequence[SolderUse]],
    safety: Sequence[SafetyNote],
    accepted: Mapping[Job, tuple[str, ...]] | None = None,
    near: Mapping[str, tuple[str, ...]] | None = None,
    helps: Help | None = None,
) -> dict[str, Card]:
    """One card per soldered job. By job key, ``uses`` gives the solder, ``near`` tells what its hot
    air reaches and what care it asks for, and ``helps`` what would heat a joint in doubt."""
    parameters = reference.plan.parameters
    by_id = {technique.id: technique for technique in reference.risk.techniques}
    limits = accepted or {}
    notes = _notes_by_key(safety)
    fed = {job.job.feeds for job in risk.jobs}
    found = {}
    for job in risk.jobs:
        key = job.job.key
        # A way that is not open on this bench has no settings and no steps to show.
        known = None if job.blocked else by_id.get(job.chosen.technique)
        found[key] = replace(
            _cards_card(job, uses.get(key, ()), parameters),
            steps=known.steps_for(key in fed) if known else (),
            look_for=(*_looks(known, job.job), *limits.get(job.job.alike, ())) if known else (),
            cautions=(
                *_cautions(job, job.chosen, parameters),
                *(near or {}).get(key, ()),
                *_helped((helps or {}).get(key, ())),
            ),
            safety=tuple(notes.get(key, ())),
        )
    return found


def _looks(technique: Technique, job: Job) -> tuple[str, ...]:
    return technique.looks_for(job.board is None or job.board.barrels)


def _notes_by_key(safety: Sequence[SafetyNote]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for note in safety:
        for key in note.applies_to:
            found.setdefault(key, []).append(note.id)
    return found


def _cards_card(risk: JobRisk, uses: Sequence[SolderUse], parameters: Parameters) -> Card:
    job, option = risk.job, risk.chosen
    verb = {"lift": "Lift", "fit": "Fit", "wire": "Wire"}[job.kind]
    return Card(
        key=job.key,
        work=f"{verb} {job.ref}",
        what=job.title,
        technique=option.title,
        settings=() if risk.blocked else tuple(_settings(job, option, uses, parameters)),
        orientation=_orientation(job, option),
    )


def settings_of(
    option: Option, parameters: Parameters, uses: Sequence[SolderUse] = ()
) -> Iterator[Line]:
    """Settings in trade words: labels and values."""
    settings = option.settings
    if option.heat is not None:
        yield from SOURCES[option.heat].lines(option)
    if settings.preheat_c is not None:
        yield "preheat", f"board at {dial_c(settings.preheat_c)}"
    for use in uses:
        where = f" for {', '.join(use.groups)}" if len(uses) > 1 else ""
        if use.solder is not None:
            yield "solder", f"{solder_name(use.solder)}{_amount(use, parameters)}{where}"
    if not uses:
        yield from (("solder", solder_name(each)) for each in settings.solders)
    if settings.flux is not None:
        wash = "; wash it off the same day" if settings.flux.kind in WASHED else ""
        yield "flux", f"{flux_name(settings.flux)}{wash}"
    if settings.magnifier is not None:
        flat = "" if settings.depth else "; it shows no depth, feel your way with the tip"
        yield "look through", f"{settings.magnifier} ({settings.power_x:g}x){flat}"


def solder_name(solder: Solder) -> str:
    return f"{solder.alloy} paste" if solder.paste else f"{solder.alloy} wire {solder.wire_mm:g} mm"


def flux_name(flux: Flux) -> str:
    return f"{plain(flux.kind)} {flux.form}"


def _amount(use: SolderUse, parameters: Parameters) -> str:
    if use.solder is not None and use.solder.paste:
        mass_mg = 1000 * use.need.mass_g / parameters["paste_metal_mass_share"]
        volume_mm3 = use.need.volume_mm3 / parameters["paste_metal_volume_share"]
        return f", about {max(mass_mg, 1):.0f} mg of paste ({volume_mm3:.1f} mm3)"
    length_mm = use.need.wire_mm
    return f", about {length_mm:.0f} mm of wire" if length_mm >= TOUCH_MM else ", a touch of it"


def _settings(
    job: Job, option: Option, uses: Sequence[SolderUse], parameters: Parameters
) -> Iterator[Line]:
    yield from settings_of(option, parameters, uses)
    text = _time(job, option, parameters)
    if text:
        yield "time", text
    if option.heat is not None:
        yield from SOURCES[option.heat].last_lines(option)


def _time(job: Job, option: Option, parameters: Parameters) -> str:
    """How long it takes, no finer than the heat model knows it; '' where it knows nothing."""
    air = option.air_heat
    if air is not None and air.molten_s is not None:
        first = about_s(air.molten_s if air.molten_s_low is None else air.molten_s_low)
        last = "much longer" if air.molten_s_high is None else f"{about_s(air.molten_s_high)} s"
        usual = about_s(air.molten_s)
        return f"everything is liquid after about {usual} s ({first} s to {last})"
    if not option.joints:
        return ""
    stop = latest_s(job, option, parameters)
    if stop < 1:
        return "this tip harms the joint in under 1 s: turn it down or take another"
    longest = max(_usual_s(joint) for joint in option.joints)
    spans: dict[str, list[str]] = {}
    for joint in option.joints:
        # Nobody is told of seconds that the same line forbids.
        spans.setdefault(_span(joint, stop if longest <= stop else None), []).append(joint.group)
    each = [
        f"{span} on {', '.join(groups)}" if len(spans) > 1 else f"{span} a joint"
        for span, groups in spans.items()
    ]
    if longest > stop:
        return (
            f"{', '.join(each)}; that is longer than this part is usually given: stop at {stop} s, "
            "let it cool, get more heat there before trying again"
        )
    return f"{', '.join(each)}; not wet? stop at {stop} s and let it cool"


def _usual_s(joint: JointHeat) -> int:
    return 0 if joint.heat.dwell_s is None else about_s(joint.heat.dwell_s)


def _span(joint: JointHeat, stop: int | None) -> str:
    """The time a joint asks for with what is not known of the contact: '1 to 3 s'; up to
    ``stop``, where that is kept."""
    heat = joint.heat
    if heat.dwell_s is None or heat.wet_s is None:
        return "a trial that may never wet"
    flow_s = heat.dwell_s - heat.wet_s
    low = about_s(flow_s + (heat.wet_s if heat.wet_s_low is None else heat.wet_s_low))
    if heat.wet_s_high is None:
        return f"{low} s or much longer"
    high = about_s(flow_s + heat.wet_s_high)
    if stop is not None:
        low, high = min(low, stop), min(high, stop)
    return f"about {low} s" if low == high else f"{low} to {high} s"


def latest_s(job: Job, option: Option, parameters: Parameters) -> int:
    """When to stop: before the heat model's harm, the part's own limit, what lands of
    surface-mount parts are given in practice, and what a tip too hot for the part allows,
    whichever is first; 0 where one is under a second."""
    footprint = job.footprint
    limits = [joint.heat.safe_s for joint in option.joints]
    if footprint is not None and job.kind != "wire":
        limits.append(footprint.heat.iron_s)
        if not footprint.through_hole and not any(g.kind == "tab" for g in footprint.pads):
            limits.append(parameters["card_land_s"])
        if _too_hot(footprint, option, parameters):
            limits.append(parameters["card_hot_tip_s"])
    return stop_s(*limits)


def _too_hot(footprint: Footprint, option: Option, parameters: Parameters) -> bool:
    limit_c = footprint.heat.iron_c + parameters["card_tip_over_k"]
    return any(joint.case.tip_c > limit_c for joint in option.joints)


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
    if not risk.blocked:
        # What a wire bears is its insulation, which the heat model looks at by itself.
        yield from _limit(footprint, option) if job.kind != "wire" else ()
        yield from _hot_tip(footprint, option, parameters)
        yield from _wide_tip(footprint, option, parameters)
    if footprint.heat.softens_c is not None:
        yield f"its plastic softens near {footprint.heat.softens_c:.0f} C"
    yield from _heat_cautions(job, option) if not risk.blocked else ()
    yield from risk.findings


def _limit(footprint: Footprint, option: Option) -> Iterable[str]:
    """What the part bears of this heat, where it is not what nearly all parts bear; of an iron
    where it is exceeded, as the card's stop keeps to it otherwise."""
    heat, usual = footprint.heat, HeatLimit()
    if option.air_heat is not None:
        over = option.air_heat.top_c > option.air_heat.limit_c
        if option.air_heat.limit_c != usual.body_c and not over:
            yield f"its body bears {_borne(option.air_heat)} as a rule; {SHEET}"
    elif option.joints:
        if any(joint.case.tip_c > heat.iron_c for joint in option.joints):
            yield f"it bears a tip of {heat.iron_c:.0f} C for {heat.iron_s:g} s as a rule; {SHEET}"
    elif heat.body_c != usual.body_c:
        yield f"its body bears {heat.body_c:.0f} C as a rule; {SHEET}"


def _borne(heat: AirHeat) -> str:
    """The limit of a part's class; two, where nobody knows whether it is made for lead-free."""
    sure, most_c = f"{heat.limit_c:.0f} C", heat.limit_c + heat.limit_doubt_k
    if not heat.limit_doubt_k:
        return sure
    return f"{sure}, up to {most_c:.0f} C if made for lead-free ovens,"


def usual_limits() -> str:
    """What heat and time on the cards keep to, where they say nothing else."""
    usual = HeatLimit()
    return (
        "a card's heat and stop keep to what its kind of part bears as a rule, most of them a tip "
        f"of {usual.iron_c:.0f} C for {usual.iron_s:g} s and a body of {usual.body_c:.0f} C; "
        "a part's data sheet goes first"
    )


def _hot_tip(footprint: Footprint, option: Option, parameters: Parameters) -> Iterable[str]:
    if _too_hot(footprint, option, parameters):
        sink = "a clip on the lead to carry heat away, " if footprint.through_hole else ""
        yield (
            f"this tip is hotter than the part bears for long: {sink}a pause between joints; "
            "or take a regulated iron"
        )


def _wide_tip(footprint: Footprint, option: Option, parameters: Parameters) -> Iterable[str]:
    """A tip that covers more than the land of a part without a pitch to measure it by."""
    lands = {group.name: group.land_w_mm for group in footprint.pads if group.kind == "chip_end"}
    over = parameters["card_tip_over_land"]
    for joint in option.joints:
        tip_mm, land_mm = joint.case.tip.width_mm, lands.get(joint.group)
        if land_mm is not None and tip_mm > over * land_mm:
            yield (
                f"the {tip_mm:g} mm tip is far wider than the {land_mm:.1f} mm land and touches "
                f"the whole part: use its corner, or take a tip of about {max(land_mm, 0.5):.1f} mm"
            )


def _helped(remedies: Sequence[Remedy]) -> Iterable[str]:
    return (
        f"what would heat it: {remedy_words(remedy)}, with some {remedy.margin_k:.0f} C to spare"
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
            yield (
                f"its top gets to about {option.air_heat.top_c:.0f} C, and its body bears "
                f"{_borne(option.air_heat)} as a rule: a preheated board, or a larger nozzle, "
                f"eases it; {SHEET}"
            )
    notes = [note for joint in option.joints for note in joint.heat.notes]
    notes += option.air_heat.notes if option.air_heat else ()
    if option.low_melt is not None:
        notes += option.low_melt.notes
        if option.low_melt.caution:
            yield f"{option.settings.removal_alloy} {option.low_melt.caution}"
    yield from dict.fromkeys(note_words(note) for note in notes)
    if not option.decided:
        yield (
            "whether the heat is enough is too close to call: try such a joint on scrap; where it "
            "does not wet in time stop, and do not push hotter"
        )
