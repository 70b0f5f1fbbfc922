"""The order in words: how good it is, its blocks, what each asks for and why it stands there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.jobs import Job
from solderrisk.plan.cards import flux_name, solder_name
from solderrisk.plan.order.edges import Waived
from solderrisk.plan.results import (
    FittingOrder,
    Move,
    Reason,
    Stage,
)
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import Option
from solderrisk.words import (
    dial_c,
    donor_at,
    folded,
    runs,
)

TOOL_LABELS = ("iron", "air", "vacuum", "plate")  # named by the tool itself
SHARE_TOLD = 0.1
REASONS_SHOWN = 3
REFS_SHOWN = 4
MOST_FOLDED = 300  # references that are folded into runs; more are others
DAY_H = 24.0
SAME_DAY_H = 4.0
VERBS = {"lift": "Lift", "fit": "Fit", "wire": "Connect"}
RULE_WORDS = {
    "access": "low parts before tall ones",
    "heat_reach": "hot air before what heat would hurt",
    "side": "surface-mount sides before through-hole parts",
    "gate": "tests before more is put at stake",
    "lift_before_fit": "parts are lifted, then fitted",
    "kit": "stated in the kit",
    "locked": "steps are locked in their place",
    "lifts_first": "lifts before fittings",
    "wires_last": "wires last",
    "prepare_first": "preparation first",
    "clean_first": "cleaning first",
    "case_last": "the case last",
    "warm_up": "easy parts first",
}


def note(order: FittingOrder) -> str:
    """How good the order is, or what moving a step by hand made of it."""
    made, percent = order.made, f"{100 * order.gap:.2f} %"
    if isinstance(made, Move):
        where = f"before {made.before}" if made.before else "to the end"
        word = f"{abs(made.added):.2f} {'more' if made.added > 0 else 'less'} expected loss"
        best = f"at most {percent} of its expected loss could be saved"
        return f"{made.key} moved {where} by hand: {word}; {best}"
    if made.proved and order.gap == 0.0:
        text = "optimal: proved that no order has a lower expected loss"
    elif made.proved:
        text = f"within {percent} of the least possible expected loss (proved)"
    else:
        text = f"not proved optimal: at most {percent} of its expected loss could be saved"
    if made.saved > 0 and order.gap > 0.0:
        text += f"; {made.saved} fewer changes of tool, tip, heat or side are worth more"
    if made.cheapest:
        text += "; with the time for changes counted no order is cheaper (proved)"
    text += "; stopped early" if made.stopped else ""
    warm = made.warm_up
    return text if warm is None else f"{text}; easy parts first adds {warm:.2f} to the loss"


def waived_text(waived: Waived) -> str:
    """A rule that gave way to what the kit states."""
    refs = waived.refs
    named = ", ".join(refs) if len(refs) <= 3 else f"{', '.join(refs[:2])} and {len(refs) - 2} more"
    rule = RULE_WORDS.get(waived.rule, waived.rule)
    return f"{waived.then} does not wait for {named} ({rule}): what the kit states goes first"


def title(stage: Stage) -> str:
    """'Fit R1-R12 on main: point iron'; of tasks and a lone test their own."""
    if not stage.work:
        return stage.test.title if stage.test else ""
    first = stage.work[0]
    if first.kind not in VERBS:
        return "; ".join(job.title for job in stage.work)
    place = donor_at(first.place) or first.place
    word = "from" if first.kind == "lift" else "on"
    ways = dict.fromkeys(option.title for option in stage.options)
    how = "; ".join(ways) or "no technique on this bench"
    return f"{VERBS[first.kind]} {_refs(stage.work)} {word} {place}: {how}"


def prepare(stage: Stage) -> tuple[str, ...]:
    """What to lay out, set and know before the work."""
    work = stage.work
    lines: list[str] = []
    if stage.turned is not None:
        name, side = stage.turned
        donor = donor_at(name)
        lines.append(f"{f'donor {donor}' if donor else name}, {side} side up")
    lines.extend(_tools(stage.options))
    lines.extend(_hand_tools(work))
    lines.extend(_waits(work))
    if any(job.donor_condition not in ("clean", "unknown") for job in work):
        lines.append("clean and dry the donor's joints first")
    polarised = _polarised(work)
    if polarised:
        lines.append(f"find pin 1 or the polarity mark of {_refs(polarised)}")
    spare = [job for job in work if job.kind == "fit" and job.irreplaceable]
    if spare:
        lines.append(f"no replacement for {_refs(spare)}: rehearse the moves dry")
    return tuple(lines)


def inspect(stage: Stage) -> tuple[str, ...]:
    """What to look at afterwards, faults apart."""
    return _looks(stage.work)


def _looks(work: Sequence[Job]) -> tuple[str, ...]:
    lines = []
    polarised = _polarised(work)
    if polarised:
        lines.append(f"second look at the orientation of {_refs(polarised)}")
    if any(job.task is not None and job.task.kind == "clean" for job in work):
        lines.append("let it dry; bottle and rags away before anything hot")
    return tuple(lines)


def checks(stage: Stage) -> tuple[str, ...]:
    """What to inspect after a block, faults in one line."""
    faults = f"look for: {', '.join(stage.faults)}"
    return (*([faults] if stage.faults else []), *inspect(stage))


def why_here(stage: Stage) -> str:
    if not stage.work:
        return "a test before more is put at stake"
    told = [_share(stage.share)] if stage.share >= SHARE_TOLD else []
    for reason in stage.reasons:
        telling = reason.rule != "gate" or reason.waits
        if len(told) < REASONS_SHOWN and (telling or not told):
            told.append(_reason(reason))
    return "; ".join(told) or "nothing waits for it and little is at stake in it"


def _share(share: float) -> str:
    return f"carries {100 * share:.0f} % of the fatal risk: early, while little is sunk"


def _reason(reason: Reason) -> str:
    """One sentence for all edges of a rule into or out of a block."""
    why = RULE_WORDS[reason.rule] if reason.why is None else reason.why.told
    own, other = _few(reason.refs), _few(reason.others)
    if own == other:
        return why
    return f"{own} {'after' if reason.waits else 'before'} {other}: {why}"


def _few(refs: Sequence[str]) -> str:
    names = runs(refs[:MOST_FOLDED], 2)
    if len(names) > REFS_SHOWN or len(refs) > MOST_FOLDED:
        return f"{', '.join(names[: REFS_SHOWN - 1])} and others"
    return ", ".join(names)


def _refs(work: Iterable[Job]) -> str:
    return folded((job.ref for job in work), 2)


def _polarised(work: Iterable[Job]) -> list[Job]:
    return [job for job in work if job.polarised and job.kind == "fit"]


def _hand_tools(work: Sequence[Job]) -> Iterable[str]:
    """What the work takes for granted."""
    kinds = {(job.kind, pad.kind) for job in work if job.footprint for pad in job.footprint.pads}
    if any(kind == "wire" for kind, _ in kinds):
        yield "cutters, something to strip with"
    elif ("fit", "through_hole") in kinds:
        yield "flush cutters"
    if ("fit", "chip_end") in kinds or ("lift", "chip_end") in kinds:
        yield "fine tweezers"


def _waits(work: Sequence[Job]) -> Iterable[str]:
    """Work that waits by itself is begun in time."""
    for job in work:
        task = job.task
        if task is None or not (task.wait_hours or task.kind == "bake"):
            continue
        if task.wait_hours is None:
            yield f"'{job.title}' waits for hours (see the part's moisture): start the day before"
        elif task.wait_hours > DAY_H:
            days = math.ceil(task.wait_hours / DAY_H)
            yield f"'{job.title}' waits {task.wait_hours:g} h: start {days} days before"
        elif task.wait_hours > SAME_DAY_H:
            yield f"'{job.title}' waits {task.wait_hours:g} h: start the day before"


def _tools(options: Sequence[Option]) -> list[str]:
    """What to lay out and set for a block: of each of its sorts of joints, told once."""
    lines: dict[str, None] = {}
    for option in options:
        own = SOURCES[option.heat].lines(option) if option.heat is not None else ()
        for label, value in own:
            lines[value if label in TOOL_LABELS else f"{label}: {value}"] = None
    for option in options:
        s = option.settings
        if s.preheat_c is not None:
            lines[f"board preheated to {dial_c(s.preheat_c)}"] = None
        supplies = [*map(solder_name, s.solders), *([flux_name(s.flux)] if s.flux else [])]
        if supplies:
            lines[", ".join(supplies)] = None
        if s.magnifier is not None:
            lines[f"{s.magnifier}, {s.power_x:g}x"] = None
    return list(lines)


@dataclass(frozen=True)
class TickRow:
    """Alike work of a block: what it is, its notes, and the references to tick off."""

    what: str
    footprint: str
    notes: tuple[str, ...]
    keys: tuple[str, ...]


def tick_rows(stage: Stage, jobs: Mapping[str, Job]) -> tuple[TickRow, ...]:
    """A row per sort of part, in the order in which they come up first."""
    rows: dict[tuple[str, str, tuple[str, ...]], list[str]] = {}
    for key in stage.keys:
        job = jobs[key]
        name = job.footprint.name if job.footprint is not None else ""
        rows.setdefault((job.title, name, tuple(_notes(job))), []).append(key)
    return tuple(
        TickRow(what, name, notes, tuple(keys)) for (what, name, notes), keys in rows.items()
    )


def _notes(job: Job) -> Iterable[str]:
    if job.polarised and job.kind == "fit":
        mark = job.footprint.mark if job.footprint is not None else ""
        yield f"orientation: {mark}" if mark else "mind the orientation"
    if job.irreplaceable:
        yield "cannot be bought again"
    if job.note:
        yield job.note
