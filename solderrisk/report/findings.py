"""What to know first, in words: a sentence and a remedy for every kind of finding."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.physics.results import Fume, Remedy, ToolFit
from solderrisk.plan.heating import remedy_words
from solderrisk.plan.order.edges import Waived
from solderrisk.plan.results import Baking, Damp, Finding, FindingKind, SafetyNote
from solderrisk.report.order import SAME_DAY_H, waived_text
from solderrisk.risk.results import Option
from solderrisk.words import (
    donor_at,
    fit_words,
    plain,
    sentence,
    short_list,
    tied_words,
)

# The sentence and the remedy of each kind; those that depend on more are functions below.
SENTENCES: dict[FindingKind, tuple[str, str]] = {
    "chip_code": (
        "size {0} of {refs} is read as the imperial code",
        "write {0}M where the metric size is meant",
    ),
    "no_gate": (
        "no gate protects {refs}, which cannot be bought again",
        "add a gate (shorts, then first power-up with a current limit) before fitting "
        "where the board allows it",
    ),
    "untested_case": (
        "the case is closed without a working check before it",
        "add a gate of kind function with this task in its 'before'",
    ),
    "no_meter": ("the gates need a meter and the bench has none", "get a meter"),
    "no_extraction": (
        "nothing catches the fumes at this bench",
        "capture fumes at the source; local rules and the flux's data sheet go first",
    ),
    "other_solder": (
        "the kit asks for {0}, the bench has {1}: {refs} "
        "would be a mixture, with the heat of the higher-melting one and, where either holds "
        "lead, the care of lead",
        "get {0}, or build all of it in {1} and write that down",
    ),
    "flux_to_wash": (
        "water-soluble flux at {refs} eats on where it is left",
        "wash it off with hot water and a brush on the same day, rinse, let it dry",
    ),
    "flux_left_out": (
        "the water-soluble flux is left out: nothing on this bench washes it off",
        "get a brush, or rosin or no-clean flux",
    ),
    "leads_to_cut": ("the leads of {refs} have to be cut", "get flush cutters, wear glasses"),
    "wires_to_strip": ("the wires {refs} have to be stripped", "get a wire stripper"),
    "falls_off": (
        "{refs} would fall off {0} while its other side is heated: too heavy for molten joints",
        "prop or tape it, heat the other side joint by joint, or fit it afterwards",
    ),
}
BOARD_CARE = {
    "phenolic_paper": "lands lift easily: 300 to 320 C, two seconds a joint, never pull",
    "cem1": "lands lift sooner than on FR-4: about 330 C, three seconds at most",
    "aluminium_core": "its core carries the heat of an iron away: hot plate, or preheat; take it "
    "off its heat sink and lay it on wood",
    "polyimide_film": "tape it down flat, bake it dry first, about 315 C and two seconds a joint",
    "ceramic": "preheat it: it cracks under a sudden tip, and long heat dissolves its lands",
}
DONE = {"lift": "lifted", "fit": "fitted", "wire": "connected"}
MEASURE = "measure lead and hole before the work"


def finding_text(finding: Finding) -> str:
    """What is found, under the reference that it is about."""
    text = sentences(finding)[0]
    return f"{finding.about}: {text}" if finding.about else text


def finding_remedy(finding: Finding) -> str:
    return sentences(finding)[1]


def sentences(finding: Finding) -> tuple[str, str]:
    """What is found and what to do about it, neither with an end."""
    told = SENTENCES.get(finding.kind)
    refs = short_list(finding.refs)
    if told is not None:
        text, remedy = told
        return text.format(*finding.names, refs=refs), remedy.format(*finding.names)
    match finding.of:
        case Option() as option:
            return _cannot(finding, option)
        case Damp() as damp:
            return _damp(finding, damp)
        case ToolFit() as fit:
            drill = "" if fit.fits else "; a board's barrel must not be drilled out"
            return f"{refs}, {finding.names[0]}: {fit_words(fit)}", MEASURE + drill
        case Waived() as waived:
            mind = "the kit's own rule stands; mind the reason at that step"
            return waived_text(waived), mind
        case tuple() as remedies:
            return _doubt(finding, remedies)
    return _counted(finding)


def _counted(finding: Finding) -> tuple[str, str]:
    """What is counted, with its grammar."""
    refs = short_list(finding.refs)
    if finding.kind == "small_land":
        land_mm, least_mm = finding.figures
        told = f"land {land_mm:.2f} mm, {least_mm:.2f} advised: it lifts easily"
        return f"{refs}, {finding.names[0]}: {told}", MEASURE
    if finding.kind == "short_cable":
        have, asked = finding.figures
        more = "one wire more" if asked - have == 1 else f"{asked - have:g} wires more"
        return (
            f"the {'reused ' if finding.names else ''}cable has {have:g} "
            f"conductors, the boards ask for {asked:g}",
            f"lay {more} beside it, or use a cable with {asked:g} conductors",
        )
    if finding.kind == "board_material":
        place, material = finding.names
        donor = donor_at(place)
        name = place if donor is None else f"donor {donor}"
        return f"{name} is made of {plain(material)}", BOARD_CARE[material]
    if finding.kind == "unwashed_donor":
        name, condition = finding.names
        return (
            f"donor {name} is {plain(condition)} and no cleaning task comes before its lifts",
            "neutralise, rinse, dry and look at every lead before trusting a part; "
            "add a task of kind clean with before: [lifts]",
        )
    if finding.kind == "ties_unknown":
        pins, *ends = finding.figures
        return (
            f"which pins lie on the copper planes of {short_list(finding.names)} is not known; "
            f"taken as on them: {tied_words(int(pins), *ends)}",
            "draft the kit with its board file, or write links and ties_known: true",
        )
    number = len(finding.refs)
    are = "reference is" if number == 1 else "references are"
    return (
        f"{number} {are} not counted in any figure here: {refs} (no footprint yet)",
        "give each a placement with a footprint; delete those that nobody solders from not_counted",
    )


NO_TOOL = {
    "cannot": "no tool in the list helps: leave it to a shop",
    "cannot_surely": "no tool in the list is surely enough: try it on scrap, or leave it to a shop",
}


def _cannot(finding: Finding, option: Option) -> tuple[str, str]:
    kind, *tools = finding.names
    heated = option.iron_heat is not None or option.air_heat is not None
    lacks = option.why if heated or not option.missing else f"it lacks {', '.join(option.missing)}"
    if finding.kind == "cannot_surely":
        lacks += f"; {', '.join(tools)} would help, still too close to call"
        tools = []
    return (
        f"{short_list(finding.refs)} cannot be {DONE[kind]} on this bench: {lacks}",
        f"cheapest way out: {', '.join(tools)}" if tools else NO_TOOL[finding.kind],
    )


def _damp(finding: Finding, damp: Damp) -> tuple[str, str]:
    when = (
        "new and just out of its dry bag it needs no baking; else bake before the heat"
        if damp.dry_when_new
        else "bake before the heat"
    )
    how = " as J-STD-033 says" if damp.baking is None else _bake(damp.baking)
    no_oven = "; the bench lists no bake oven: one that holds its heat and never cooks food"
    return (
        f"{short_list(finding.refs)}, heated as a whole, "
        f"{'takes' if len(finding.refs) == 1 else 'take'} up moisture (level {damp.level})"
        f"{_floor(damp.floor_h)}",
        f"{when}{how}; the label and the data sheet go first{'' if damp.oven else no_oven}",
    )


def _floor(hours: float | None) -> str:
    if hours is None:
        return ""
    if hours == 0:
        return "; J-STD-020 asks for baking before every use"
    return f"; J-STD-020 gives {hours:g} h out of the dry bag"


def _bake(baking: Baking) -> str:
    first = baking.mild or baking.times
    told = " or ".join(f"{_long(hours)} at {oven_c:g} C" for oven_c, hours in first)
    rest = [time for time in baking.times if time not in first]
    hot = "".join(f"; {_long(hours)} at {oven_c:g} C only" for oven_c, hours in rest)
    bears = " where the whole donor board bears it" if rest else ""
    table = f"J-STD-033, body {baking.thickness_mm:.1f} mm thick"
    long = baking.times[0][1] > SAME_DAY_H
    ahead = ", in its own time before the day of the work" if long else ""
    return f": {told}{hot}{bears} ({table}){ahead}"


def _long(hours: float) -> str:
    return f"{hours:g} h" if hours <= 72 else f"{hours / 24:g} days"


def _doubt(finding: Finding, remedies: Sequence[Remedy]) -> tuple[str, str]:
    told = [f"{remedy_words(each)} ({each.margin_k:.0f} C to spare)" for each in remedies]
    return (
        f"{short_list(finding.refs)} may stay cold: the heat is too close to call",
        f"try one on scrap first; what would heat it: {', or '.join(told)}"
        if told
        else "try one on scrap first; a wider tip, more power or preheat may be enough",
    )


# Safety notes


def note_lines(note: SafetyNote) -> tuple[str, ...]:
    """What a note says, the estimate that goes with it before its last line."""
    if note.air is None:
        return note.text
    return (*note.text[:-1], fume_line(note.air), *note.text[-1:])


PASSES = {
    "yes": "the fume near the face passes the 15-minute limit",
    "perhaps": "the fume near the face may pass the 15-minute limit",
    "no": "the estimate near the face stays under the 15-minute limit",
}


def fume_line(found: Fume) -> str:
    """What the estimate means for the work, and what it does not say, in one line."""
    advice = (
        "keep the extraction close to the joint and check that it draws"
        if found.extraction in ("arm", "tip", "filter_box")
        else "catch the fume at the joint before it reaches the face"
    )
    room = (
        f"; after hours the whole room is above the 8-hour limit of {found.limit_8h_mg_m3:g}: "
        "air it, take breaks outside"
        if found.steady_mg_m3 > found.limit_8h_mg_m3
        else ""
    )
    return (
        f"At this pace in this room {PASSES[found.near_passes]} of "
        f"{found.limit_15min_mg_m3:g} mg/m3{room}. {sentence(advice)}. It is an estimate and no "
        "measurement; no level of rosin fume is known to do no harm."
    )
