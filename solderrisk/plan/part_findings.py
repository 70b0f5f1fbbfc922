"""Findings about single parts: moisture, holes too small for a lead, heat in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Families, Footprint, Lead, PadGroup
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board, Kit
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.handwork import hole_fits, lead_diagonal_mm, least_land_mm
from solderrisk.physics.part_limits import (
    baking,
    body_thickness_mm,
    fastening,
    floor_life_h,
    shock_limit,
    surfaces,
)
from solderrisk.physics.results import Remedy, ToolFit
from solderrisk.plan.heating import Help
from solderrisk.plan.results import Baking, Damp, Finding
from solderrisk.risk.heat.bench import can_wash
from solderrisk.risk.results import KitRisk, Option
from solderrisk.words import DONOR, plain

EVERY_TIME = "6"  # the level that is baked before every use
DRY = ("1", "2", "2a")  # levels that weeks in a dry room do not harm

# How a lead suits its hole, or width and least width of its land, mm.
_Hole = ToolFit | tuple[float, float]


def moisture(
    risk: KitRisk, data: PhysicsData | None, bench: Bench | None = None
) -> Iterable[Finding]:
    """Parts that take up moisture and are heated as a whole, with J-STD-020's floor life and
    J-STD-033's baking where there are data for it."""
    groups: dict[tuple[str, Baking | None], list[Job]] = {}
    for item in risk.jobs:
        footprint = item.job.footprint
        if item.blocked or item.chosen.warms == "joint" or footprint is None:
            continue
        level = str(footprint.moisture_level or "1")
        if level not in DRY:
            lifted = item.job.kind == "lift"
            bake = None if data is None else _baking(level, footprint, lifted, data)
            groups.setdefault((level, bake), []).append(item.job)
    for (level, bake), jobs in groups.items():
        every_time = level == EVERY_TIME or any(job.kind == "lift" for job in jobs)
        floor_h = None if data is None else floor_life_h(level, data)
        oven = bench is None or bench.has("bake_oven")
        damp = Damp(level, floor_h, bake, not every_time, oven)
        yield Finding("caution", "damp", *whom(jobs), of=damp)


def _baking(level: str, footprint: Footprint, lifted: bool, data: PhysicsData) -> Baking | None:
    """For how long by the table, if it tells; of a part on a populated donor the oven that the
    board bears goes first."""
    thickness_mm = body_thickness_mm(footprint, data)
    times = tuple(sorted(baking(level, thickness_mm, data).items(), reverse=True))
    bears_c = data.parameters["bake_populated_c"]
    mild = tuple(time for time in times if lifted and time[0] <= bears_c)
    # Tenths of a millimetre are told: parts that read the same are told together.
    return Baking(round(thickness_mm, 1), times, mild) if times else None


def whom(jobs: Iterable[Job]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """References and keys."""
    jobs = tuple(jobs)
    return tuple(job.ref for job in jobs), tuple(job.key for job in jobs)


def holes(kit: Kit, jobs: Sequence[Job], data: PhysicsData) -> Iterable[Finding]:
    """Leads against holes: of footprints that the kit brings itself, and of parts off a donor
    whose footprint is not that of their new place."""
    own = {footprint.name for footprint in kit.footprints}
    lifts = {job.feeds: job for job in jobs if job.feeds}
    groups: dict[tuple[str, _Hole], list[Job]] = {}
    for job in jobs:
        if job.kind != "fit" or job.footprint is None:
            continue
        donor = lifts.get(job.key)
        other = donor is not None and donor.footprint != job.footprint
        if not other and job.footprint.name not in own:
            continue
        leads = _leads(donor) if donor is not None else {}
        for group in job.footprint.pads:
            found = _hole(group, leads.get(group.name), data)
            if found is not None:
                groups.setdefault((group.name, found), []).append(job)
    for (pads, found), members in groups.items():
        fits = not isinstance(found, ToolFit) or found.fits
        yield Finding(
            "note" if fits else "caution",
            "hole" if isinstance(found, ToolFit) else "small_land",
            *whom(members),
            names=(pads,),
            figures=found.figures if isinstance(found, ToolFit) else found,
            of=found if isinstance(found, ToolFit) else None,
        )


def _leads(donor: Job) -> dict[str, Lead]:
    pads = donor.footprint.pads if donor.footprint else ()
    return {group.name: group.lead for group in pads if group.lead is not None}


def _hole(group: PadGroup, lead: Lead | None, data: PhysicsData) -> _Hole | None:
    """What does not suit, in hundredths of a millimetre as they are told; None where the lead
    suits its hole or nothing is known."""
    pin = lead or group.lead
    if not group.through_board or pin is None:
        return None
    found = hole_fits(group, data, lead=lead)
    if not found.fits or found.kind in ("tight", "loose"):
        figures = tuple(round(figure, 2) for figure in found.figures)
        return ToolFit(found.fits, found.kind, figures)
    land_mm = min(group.land_w_mm, group.land_l_mm)
    least_mm = least_land_mm(lead_diagonal_mm(pin), "C", data)
    if group.slot_w_mm is None and land_mm < least_mm:
        return round(land_mm, 2), round(least_mm, 2)
    return None


def heat_doubt(risk: KitRisk, helps: Help) -> Iterable[Finding]:
    """Joints inside the heat model's doubt, with what would move them out of it."""
    groups: dict[tuple[Remedy, ...], list[Job]] = {}
    for item in risk.jobs:
        if not item.blocked and not item.chosen.decided:
            changes = tuple(_change(remedy) for remedy in helps.get(item.job.key, ()))
            groups.setdefault(changes, []).append(item.job)
    for changes, jobs in groups.items():
        least = (min(helps[job.key][at].margin_k for job in jobs) for at in range(len(changes)))
        of = tuple(replace(one, margin_k=k) for one, k in zip(changes, least, strict=True))
        yield Finding("note", "heat_in_doubt", *whom(jobs), of=of)


def _change(remedy: Remedy) -> Remedy:
    """What is to be changed, whatever comes of it."""
    over_k = remedy.over_limit_k
    told = over_k if over_k <= 0 else max(float(round(over_k)), 1e-9)
    return replace(remedy, margin_k=0.0, wet_s=None, over_limit_k=told)


def other_solder(risk: KitRisk) -> Iterable[Finding]:
    """Solder in hand that is not the alloy that the kit asks for."""
    groups: dict[tuple[str, str], list[Job]] = {}
    for item in risk.jobs:
        for solder in () if item.blocked else item.chosen.settings.solders:
            if solder.alloy != item.job.alloy:
                groups.setdefault((item.job.alloy, solder.alloy), []).append(item.job)
    for alloys, jobs in groups.items():
        yield Finding("caution", "other_solder", *whom(jobs), names=alloys)


def washing(risk: KitRisk, bench: Bench) -> Iterable[Finding]:
    """Flux that eats on where it is left."""
    if not any(flux.kind == "water_soluble" for flux in bench.fluxes):
        return
    jobs = [
        item.job
        for item in risk.jobs
        if not item.blocked
        and item.chosen.settings.flux is not None
        and item.chosen.settings.flux.kind == "water_soluble"
    ]
    if jobs:
        yield Finding("caution", "flux_to_wash", *whom(jobs))
    elif not can_wash(bench):
        yield Finding("note", "flux_left_out")


def leads_to_cut(risk: KitRisk, bench: Bench) -> Iterable[Finding]:
    """Small tools that the work takes for granted."""
    leads = [i.job for i in risk.jobs if i.job.kind == "fit" and _through(i.job)]
    wires = [i.job for i in risk.jobs if i.job.kind == "wire"]
    cutters, stripper = bench.has("flush_cutters"), bench.has("wire_stripper")
    if leads and not cutters:
        yield Finding("note", "leads_to_cut", *whom(leads))
    if wires and not (cutters or stripper):
        yield Finding("note", "wires_to_strip", *whom(wires))


def _through(job: Job) -> bool:
    return job.footprint is not None and job.footprint.through_hole


NOT_FR4 = ("phenolic_paper", "cem1", "aluminium_core", "polyimide_film", "ceramic")


def board_care(kit: Kit) -> Iterable[Finding]:
    """What boards that are not FR-4 ask for."""
    boards = [(board.name, board) for board in kit.boards]
    boards += [(f"{DONOR}{donor.name}", donor.board) for donor in kit.donors]
    for name, board in boards:
        if board.material in NOT_FR4:
            yield Finding("caution", "board_material", names=(name, board.material))


HOW_OFF = {
    "acrylic": "a solvent softens it",
    "silicone": "it peels and rubs off",
    "polyurethane": "strip it, or burn it through under extraction: its fume is poisonous",
    "epoxy": "only scraping takes it off, and lands come with it",
    "parylene": "it is rubbed off with abrasive",
}


def care_of(risk: KitRisk, data: PhysicsData, families: Families) -> dict[str, tuple[str, ...]]:
    """By job key: weight, shock, coatings, metals and contacts that a card has to say."""
    return {
        item.job.key: (
            *_care(item.job, None if item.blocked else item.chosen, data),
            *_contacts(item.job, families),
        )
        for item in risk.jobs
        if item.job.footprint is not None and item.job.board is not None
    }


def _care(job: Job, option: Option | None, data: PhysicsData) -> Iterable[str]:
    footprint, board = job.footprint, job.board
    assert footprint is not None
    assert board is not None
    if option is not None and job.kind == "fit":
        yield from _shock(footprint, option, data)
        yield from _weight(job, footprint, data)
        yield from _soft(board, option, data)
    found = surfaces(footprint, board, job.glued, data)
    if found.coated is not None:
        yield f"{found.coated} coating: clear the joints first; {HOW_OFF[found.coated]}"
    if job.glued:
        yield "glued down: warm the glue and turn the part off, never pull"
    if found.slow:
        yield f"{plain(found.slow[0])} takes solder slowly: scour it bright, plenty of flux"
    if job.kind == "wire" and footprint.body.material == "enamel":
        yield "scrape the enamel off, or burn it away with a blob of solder at 390 C or more"
    if job.kind == "wire" and footprint.body.material == "polyethylene":
        yield "its inner insulation melts near 105 C: tin the ends first, be quick, let it cool"


def _contacts(job: Job, families: Families) -> Iterable[str]:
    open_ = job.footprint is not None and job.footprint.family in families.open_contacts
    if job.kind == "fit" and open_:
        yield "keep flux and solvent out of its contacts"


def _soft(board: Board, option: Option, data: PhysicsData) -> Iterable[str]:
    glass_c, warm_c = data.materials.of(board).glass_c, option.settings.preheat_c
    if glass_c is not None and warm_c is not None and warm_c > glass_c:
        yield f"at {warm_c:.0f} C the board is soft: support it flat, push nothing"


def _shock(footprint: Footprint, option: Option, data: PhysicsData) -> Iterable[str]:
    limit = shock_limit(footprint, data)
    if limit is None or not limit.told:
        return
    if not option.joints:
        yield "large ceramic capacitors crack: warm it up slowly, both ends together"
        return
    hottest, warm = max(joint.case.tip_c for joint in option.joints), option.settings.preheat_c
    wanted = max(limit.preheat_c(min(hottest, limit.tip_most_c)), 0.0)
    board, tip = (
        _than(wanted, warm, wanted > (warm or 0.0)),
        _than(limit.tip_most_c, hottest, hottest > limit.tip_most_c),
    )
    barred = "" if limit.by_iron else "its makers want hot air or a plate; if an iron, "
    yield (
        f"a ceramic capacitor this large cracks under a thermal shock, and shows it late: {barred}"
        f"the board at {board}, the tip at most {tip}, on the land and never on the part"
    )


def _than(wanted_c: float, have_c: float | None, short: bool) -> str:
    """A temperature, beside what it is here where that is another one."""
    here = "" if have_c is None or not short else f" (here {have_c:.0f} C)"
    return f"{wanted_c:.0f} C{here}"


def _weight(job: Job, footprint: Footprint, data: PhysicsData) -> Iterable[str]:
    weight = fastening(footprint, data)
    if job.fixing == "heat_sink" and not footprint.through_hole:
        yield "its heat sink goes on when its joints are cold: before, it would take their heat"
    elif job.fixing == "heat_sink":
        yield (
            "screw it to its heat sink first, then solder: the other way round strains its joints; "
            "a lead that is one piece with the sink wets last"
        )
    elif job.fixing == "screw":
        yield "screw it down first, then solder: the other way round strains its joints"
    elif job.fixing is not None:
        yield f"{plain(job.fixing)} first, then solder"
    elif weight.known and weight.needed:
        yield (
            f"{weight.mass_g:.0f} g is more than joints carry: screw, strap or glue it down before "
            "it is soldered"
        )
