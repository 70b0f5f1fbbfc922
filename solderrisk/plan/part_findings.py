"""Findings about single parts: moisture, holes too small for a lead, heat in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

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
from solderrisk.plan.heating import Help, remedy_words
from solderrisk.plan.results import Finding
from solderrisk.risk.heat.bench import can_wash
from solderrisk.risk.results import KitRisk, Option
from solderrisk.words import fit_words, plain, short_list

EVERY_TIME = "6"  # the level that is baked before every use
NO_OVEN = "; the bench lists no bake oven: one that holds its heat and never cooks food"
DRY = ("1", "2", "2a")  # levels that weeks in a dry room do not harm


def moisture(
    risk: KitRisk, data: PhysicsData | None, bench: Bench | None = None
) -> Iterable[Finding]:
    """Parts that take up moisture and are heated as a whole, with J-STD-020's floor life and
    J-STD-033's baking where there are data for it."""
    groups: dict[tuple[str, str], list[Job]] = {}
    for item in risk.jobs:
        footprint = item.job.footprint
        if item.blocked or item.chosen.warms == "joint" or footprint is None:
            continue
        level = str(footprint.moisture_level or "1")
        if level not in DRY:
            lifted = item.job.kind == "lift"
            bake = "" if data is None else _baking(level, footprint, lifted, data)
            groups.setdefault((level, bake), []).append(item.job)
    no_oven = "" if bench is None or bench.has("bake_oven") else NO_OVEN
    for (level, bake), jobs in groups.items():
        yield Finding(
            "caution",
            f"{short_list([j.ref for j in jobs])}, heated as a whole, "
            f"{'takes' if len(jobs) == 1 else 'take'} up moisture (level {level})"
            f"{'' if data is None else _floor(level, data)}",
            f"{_when(jobs, level)}{bake or ' as J-STD-033 says'}; the label and the data sheet go "
            f"first{no_oven}",
            tuple(job.key for job in jobs),
        )


def _when(jobs: Sequence[Job], level: str) -> str:
    if level == EVERY_TIME or any(job.kind == "lift" for job in jobs):
        return "bake before the heat"
    return "new and just out of its dry bag it needs no baking; else bake before the heat"


def _floor(level: str, data: PhysicsData) -> str:
    hours = floor_life_h(level, data)
    if hours is None:
        return ""
    if hours == 0:
        return "; J-STD-020 asks for baking before every use"
    return f"; J-STD-020 gives {hours:g} h out of the dry bag"


def _baking(level: str, footprint: Footprint, lifted: bool, data: PhysicsData) -> str:
    """'', or for how long by the table of J-STD-033, hottest oven first; of a part on a
    populated donor the oven that the board bears goes first."""
    thickness_mm = body_thickness_mm(footprint, data)
    times = sorted(baking(level, thickness_mm, data).items(), reverse=True)
    if not times:
        return ""
    mild = [time for time in times if lifted and time[0] <= data.parameters["bake_populated_c"]]
    told = " or ".join(f"{_long(hours)} at {oven_c:g} C" for oven_c, hours in mild or times)
    rest = [time for time in times if mild and time not in mild]
    hot = "".join(f"; {_long(hours)} at {oven_c:g} C only" for oven_c, hours in rest)
    bears = " where the whole donor board bears it" if rest else ""
    table = f"J-STD-033, body {thickness_mm:.1f} mm thick"
    ahead = ", in its own time before the day of the work" if times[0][1] > 4 else ""
    return f": {told}{hot}{bears} ({table}){ahead}"


def _long(hours: float) -> str:
    return f"{hours:g} h" if hours <= 72 else f"{hours / 24:g} days"


def holes(kit: Kit, jobs: Sequence[Job], data: PhysicsData) -> Iterable[Finding]:
    """Leads against holes: of footprints that the kit brings itself, and of parts off a donor
    whose footprint is not that of their new place."""
    own = {footprint.name for footprint in kit.footprints}
    lifts = {job.feeds: job for job in jobs if job.feeds}
    groups: dict[tuple[str, str], list[Job]] = {}
    for job in jobs:
        if job.kind != "fit" or job.footprint is None:
            continue
        donor = lifts.get(job.key)
        other = donor is not None and donor.footprint != job.footprint
        if not other and job.footprint.name not in own:
            continue
        leads = _leads(donor) if donor is not None and other else {}
        for group in job.footprint.pads:
            level, why = _hole(group, leads.get(group.name), data)
            if why:
                groups.setdefault((level, f"{group.name}: {why}"), []).append(job)
    for (level, why), members in groups.items():
        yield Finding(
            "caution" if level == "caution" else "note",
            f"{short_list([j.ref for j in members])}, {why}",
            "measure lead and hole before the work; a board's barrel must not be drilled out"
            if level == "caution"
            else "measure lead and hole before the work",
            tuple(job.key for job in members),
        )


def _leads(donor: Job) -> dict[str, Lead]:
    pads = donor.footprint.pads if donor.footprint else ()
    return {group.name: group.lead for group in pads if group.lead is not None}


def _hole(group: PadGroup, lead: Lead | None, data: PhysicsData) -> tuple[str, str]:
    """Level and reason; '' where the lead suits its hole or nothing is known."""
    if not group.through_board or (lead or group.lead) is None:
        return "", ""
    found = hole_fits(group, data, lead=lead)
    if not found.fits:
        return "caution", fit_words(found)
    if found.kind in ("tight", "loose"):
        return "note", fit_words(found)
    pin = lead or group.lead
    land_mm = min(group.land_w_mm, group.land_l_mm)
    least_mm = 0.0 if pin is None else least_land_mm(lead_diagonal_mm(pin), "C", data)
    if group.slot_w_mm is None and land_mm < least_mm:
        return "note", f"land {land_mm:.2f} mm, {least_mm:.2f} advised: it lifts easily"
    return "", ""


def heat_doubt(risk: KitRisk, helps: Help) -> Iterable[Finding]:
    """Joints inside the heat model's doubt, with what would move them out of it."""
    groups: dict[tuple[str, ...], list[Job]] = {}
    for item in risk.jobs:
        if not item.blocked and not item.chosen.decided:
            texts = tuple(remedy_words(remedy) for remedy in helps.get(item.job.key, ()))
            groups.setdefault(texts, []).append(item.job)
    for texts, jobs in groups.items():
        told = [
            f"{text} ({min(helps[job.key][at].margin_k for job in jobs):.0f} C to spare)"
            for at, text in enumerate(texts)
        ]
        yield Finding(
            "note",
            f"{short_list([j.ref for j in jobs])} may stay cold: the heat is too close to call",
            f"try one on scrap first; what would heat it: {', or '.join(told)}"
            if told
            else "try one on scrap first; a wider tip, more power or preheat may be enough",
            tuple(job.key for job in jobs),
        )


def other_solder(risk: KitRisk) -> Iterable[Finding]:
    """Solder in hand that is not the alloy that the kit asks for."""
    groups: dict[tuple[str, str], list[Job]] = {}
    for item in risk.jobs:
        for solder in () if item.blocked else item.chosen.settings.solders:
            if solder.alloy != item.job.alloy:
                groups.setdefault((item.job.alloy, solder.alloy), []).append(item.job)
    for (asked, used), jobs in groups.items():
        yield Finding(
            "caution",
            f"the kit asks for {asked}, the bench has {used}: {short_list([j.ref for j in jobs])} "
            "would be a mixture, with the heat of the higher-melting one and, where either holds "
            "lead, the care of lead",
            f"get {asked}, or build all of it in {used} and write that down",
            tuple(job.key for job in jobs),
        )


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
        yield Finding(
            "caution",
            f"water-soluble flux at {short_list([j.ref for j in jobs])} eats on where it is left",
            "wash it off with hot water and a brush on the same day, rinse, let it dry",
            tuple(job.key for job in jobs),
        )
    elif not can_wash(bench):
        yield Finding(
            "note",
            "the water-soluble flux is left out: nothing on this bench washes it off",
            "get a brush, or rosin or no-clean flux",
        )


def leads_to_cut(risk: KitRisk, bench: Bench) -> Iterable[Finding]:
    """Small tools that the work takes for granted."""
    leads = [i.job for i in risk.jobs if i.job.kind == "fit" and _through(i.job)]
    wires = [i.job for i in risk.jobs if i.job.kind == "wire"]
    cutters, stripper = bench.has("flush_cutters"), bench.has("wire_stripper")
    if leads and not cutters:
        refs = short_list([job.ref for job in leads])
        keys = tuple(job.key for job in leads)
        yield Finding(
            "note", f"the leads of {refs} have to be cut", "get flush cutters, wear glasses", keys
        )
    if wires and not (cutters or stripper):
        refs = short_list([job.ref for job in wires])
        keys = tuple(job.key for job in wires)
        yield Finding("note", f"the wires {refs} have to be stripped", "get a wire stripper", keys)


def _through(job: Job) -> bool:
    return job.footprint is not None and job.footprint.through_hole


HOW_OFF = {
    "acrylic": "a solvent softens it",
    "silicone": "it peels and rubs off",
    "polyurethane": "strip it, or burn it through under extraction: its fume is poisonous",
    "epoxy": "only scraping takes it off, and lands come with it",
    "parylene": "it is rubbed off with abrasive",
}
BOARD_CARE = {
    "phenolic_paper": "lands lift easily: 300 to 320 C, two seconds a joint, never pull",
    "cem1": "lands lift sooner than on FR-4: about 330 C, three seconds at most",
    "aluminium_core": "its core carries the heat of an iron away: hot plate, or preheat; take it "
    "off its heat sink and lay it on wood",
    "polyimide_film": "tape it down flat, bake it dry first, about 315 C and two seconds a joint",
    "ceramic": "preheat it: it cracks under a sudden tip, and long heat dissolves its lands",
}


def board_care(kit: Kit) -> Iterable[Finding]:
    """What boards that are not FR-4 ask for."""
    boards = [(board.name, board) for board in kit.boards]
    boards += [(f"donor {donor.name}", donor.board) for donor in kit.donors]
    for name, board in boards:
        if board.material in BOARD_CARE:
            text = f"{name} is made of {plain(board.material)}"
            yield Finding("caution", text, BOARD_CARE[board.material])


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
    if footprint is None or board is None:
        return
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
