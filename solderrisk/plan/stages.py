"""Stages: the order in blocks a person can follow, each closed by a gate where there is one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.base import Parameters
from solderrisk.model.jobs import Job
from solderrisk.plan.cards import flux_name, solder_name
from solderrisk.plan.order.edges import Edge, Edges, Row, bits, mask_of
from solderrisk.plan.order.net import RULE_WORDS
from solderrisk.plan.order.rules import risk_by_key
from solderrisk.plan.order.values import Spot, minutes_of, spot_of
from solderrisk.plan.results import Stage
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JobRisk, KitRisk, Settings
from solderrisk.words import dial_c, donor_at, folded

MODES_SHOWN = 3
TOOL_LABELS = ("iron", "air", "vacuum", "plate")  # named by the tool itself
SHARE_TOLD = 0.1
REASONS_SHOWN = 3
REFS_SHOWN = 4
MOST_FOLDED = 300  # references that are folded into runs; more are others
DAY_H = 24.0
SAME_DAY_H = 4.0

RULE_ORDER = (
    "locked",
    "gate",
    "heat_reach",
    "access",
    "side",
    "kit",
    "lift_before_fit",
    "clean_first",
    "lifts_first",
    "prepare_first",
    "warm_up",
    "wires_last",
    "case_last",
)


def stages_of(
    keys: Sequence[str],
    jobs: Sequence[Job],
    risk: KitRisk,
    edges: Sequence[Edge],
    *,
    parameters: Parameters,
) -> tuple[Stage, ...]:
    """The order cut into blocks: work of one kind at one set-up of tool, tip, heat and side,
    techniques mixed only where each is short; a gate closes a block, and what cannot be
    replaced has one of its own.

    A gate is no part of ``keys`` of its stage; every other job is in exactly one stage.
    """
    by_key = {job.key: job for job in jobs}
    risks = risk_by_key(risk)
    blocks = _blocks([by_key[key] for key in keys], risks, parameters)
    writer = _Writer(risks, risk.fail_share, Edges.of(jobs, edges), keys, by_key, parameters)
    stages: list[Stage] = []
    before: Spot | None = None
    for number, (block, gate) in enumerate(blocks, start=1):
        stages.append(writer.stage(number, block, gate, before))
        spots = [spot_of(job, risks.get(job.key)) for job in block]
        before = next((spot for spot in reversed(spots) if spot), before)
    return tuple(stages)


def _blocks(
    work: Sequence[Job], risks: Mapping[str, JobRisk], parameters: Parameters
) -> list[tuple[list[Job], Job | None]]:
    """Runs of one technique, short ones at one set-up put together, with the gate that
    closes each; a run that has lasted long is cut where another footprint begins."""
    runs: list[list[Job]] = []
    lasted = 0.0
    for job in work:
        last = runs[-1][-1] if runs else None
        same = last is not None and _technique(last, risks) == _technique(job, risks)
        if last is not None and same and job.gate is None:
            long = lasted > parameters["order_stage_min"]
            if not long or last.footprint == job.footprint:
                runs[-1].append(job)
                lasted += _minutes([job], risks, parameters)
                continue
        runs.append([job])
        lasted = _minutes([job], risks, parameters)
    blocks: list[tuple[list[Job], Job | None]] = []
    block: list[Job] = []
    for run in runs:
        if run[0].gate is not None:
            blocks.append((block, run[0]))
            block = []
            continue
        short = _minutes([*block, *run], risks, parameters) <= parameters["order_stage_merge_min"]
        if block and not (short and _kind(block[-1], risks) == _kind(run[0], risks)):
            blocks.append((block, None))
            block = []
        block = [*block, *run]
    return [*blocks, (block, None)] if block else blocks


def _minutes(work: Sequence[Job], risks: Mapping[str, JobRisk], parameters: Parameters) -> float:
    return sum(minutes_of(job, risks.get(job.key), parameters) for job in work)


def _kind(job: Job, risks: Mapping[str, JobRisk]) -> tuple[object, ...]:
    spot = spot_of(job, risks.get(job.key))
    return (job.kind, job.irreplaceable, spot.setup if spot else None)


def _technique(job: Job, risks: Mapping[str, JobRisk]) -> tuple[object, ...]:
    spot = spot_of(job, risks.get(job.key))
    return (*_kind(job, risks), spot.technique if spot else "")


class _Writer:
    """Puts a block of jobs into words."""

    def __init__(
        self,
        risks: Mapping[str, JobRisk],
        shares: Mapping[str, float],
        edges: Edges,
        keys: Sequence[str],
        by_key: Mapping[str, Job],
        parameters: Parameters,
    ) -> None:
        self.risks, self.by_key, self.parameters = risks, by_key, parameters
        self.shares = shares
        self.edges = edges

    def stage(self, number: int, block: list[Job], gate: Job | None, before: Spot | None) -> Stage:
        items = [self.risks[job.key] for job in block if job.key in self.risks]
        usable = [item for item in items if item.options and not item.blocked]
        settings = usable[0].chosen.settings if usable else Settings()
        minutes = _minutes([*block, *([gate] if gate else [])], self.risks, self.parameters)
        return Stage(
            number=number,
            title=self._title(block, gate),
            prepare=self._prepare(block, usable, settings, before),
            settings=settings,
            keys=tuple(job.key for job in block),
            faults=_worst_faults(usable),
            inspect=_looks(block),
            gate=gate.key if gate else None,
            minutes=minutes,
            why_here=self._why(block, gate),
            wait_hours=max((job.task.wait_hours or 0.0 for job in block if job.task), default=0.0),
        )

    def _title(self, block: Sequence[Job], gate: Job | None) -> str:
        if not block:
            return gate.title if gate else ""
        first = block[0]
        if first.kind == "task":
            return "; ".join(job.title for job in block)
        verb = {"lift": "Lift", "fit": "Fit", "wire": "Connect"}[first.kind]
        place = donor_at(first.place) or first.place
        word = "from" if first.kind == "lift" else "on"
        known = [self.risks[job.key] for job in block if job.key in self.risks]
        ways = dict.fromkeys(i.chosen.title for i in known if i.options and not i.blocked)
        blocked = len(known) > 0 and not ways
        how = ": no technique on this bench" if blocked else f": {'; '.join(ways)}"
        return f"{verb} {refs_text(job.ref for job in block)} {word} {place}{how}"

    def _prepare(
        self,
        block: Sequence[Job],
        usable: Sequence[JobRisk],
        settings: Settings,
        before: Spot | None,
    ) -> tuple[str, ...]:
        lines: list[str] = []
        spot = spot_of(block[0], self.risks.get(block[0].key)) if block else None
        moved = spot is not None and (before is None or before.place != spot.place)
        if spot is not None and moved and spot.place[0]:
            name, side = spot.place
            donor = donor_at(name)
            where = f"donor {donor}" if donor else name
            lines.append(f"{where}, {side} side up")
        lines.extend(_tools(usable))
        lines.extend(_hand_tools(block))
        lines.extend(_waits(block))
        if any(job.donor_condition not in ("clean", "unknown") for job in block):
            lines.append("clean and dry the donor's joints first")
        polarised = [job.ref for job in block if job.polarised and job.kind == "fit"]
        if polarised:
            lines.append(f"find pin 1 or the polarity mark of {refs_text(polarised)}")
        spare = [job.ref for job in block if job.kind == "fit" and job.irreplaceable]
        if spare:
            lines.append(f"no replacement for {refs_text(spare)}: rehearse the moves dry")
        return tuple(lines)

    def _why(self, block: Sequence[Job], gate: Job | None) -> str:
        if not block:
            return "a test before more is put at stake"
        edges = self.edges
        mine = mask_of([edges.place[job.key] for job in block])
        own = mine | (1 << edges.place[gate.key] if gate else 0)
        kinds = [
            (rule, waits)
            for rule, rows in edges.by_rule.items()
            for waits in (True, False)
            if any(_out_of_block(row, waits, mine, own) for row in rows)
        ]
        reasons = [text for text in [self._share(block)] if text]
        for rule, waits in sorted(kinds, key=lambda kind: _rank(*kind)):
            telling = rule != "gate" or waits
            if len(reasons) < REASONS_SHOWN and (telling or not reasons):
                reasons.append(self._reason(rule, waits, mine, own))
        return "; ".join(reasons) or "nothing waits for it and little is at stake in it"

    def _reason(self, rule: str, waits: bool, mine: int, own: int) -> str:
        """One sentence for all edges of a rule into or out of a block."""
        edges = self.edges
        block = others = 0
        whys: dict[str, None] = {}
        for row in edges.by_rule[rule]:
            firsts = _out_of_block(row, waits, mine, own)
            if firsts:
                block |= 1 << row.then if waits else firsts
                others |= firsts if waits else 1 << row.then
                if len(whys) < 2:
                    whys.update((edge.why, None) for edge in edges.told(row, firsts))
        why = next(iter(whys)) if len(whys) == 1 else RULE_WORDS.get(rule, next(iter(whys)))
        own_refs, other = self._refs(block), self._refs(others)
        if own_refs == other:
            return why
        return f"{own_refs} {'after' if waits else 'before'} {other}: {why}"

    def _refs(self, numbers: int) -> str:
        told = bits(numbers)[:MOST_FOLDED]
        names = refs_text(self.edges.jobs[number].ref for number in told).split(", ")
        if len(names) > REFS_SHOWN or len(told) < numbers.bit_count():
            return f"{', '.join(names[: REFS_SHOWN - 1])} and others"
        return ", ".join(names)

    def _share(self, block: Sequence[Job]) -> str:
        share = sum(self.shares.get(job.key, 0.0) for job in block)
        if share < SHARE_TOLD:
            return ""
        return f"carries {100 * share:.0f} % of the fatal risk: early, while little is sunk"


def _out_of_block(row: Row, waits: bool, mine: int, own: int) -> int:
    """The first jobs of a row that leads into a block from outside, or out of it."""
    inside = own >> row.then & 1
    if waits:
        return row.firsts & ~own if mine >> row.then & 1 else 0
    return 0 if inside else row.firsts & mine


def _hand_tools(block: Sequence[Job]) -> Iterable[str]:
    """What the work takes for granted."""
    kinds = {(job.kind, pad.kind) for job in block if job.footprint for pad in job.footprint.pads}
    if any(kind == "wire" for kind, _ in kinds):
        yield "cutters, something to strip with"
    elif ("fit", "through_hole") in kinds:
        yield "flush cutters"
    if ("fit", "chip_end") in kinds or ("lift", "chip_end") in kinds:
        yield "fine tweezers"


def _worst_faults(usable: Sequence[JobRisk]) -> tuple[str, ...]:
    weight: dict[str, float] = {}
    for item in usable:
        for mode in item.chosen.modes:
            weight[mode.title] = weight.get(mode.title, 0.0) + mode.total.mid
    worst = sorted(weight, key=lambda title: (-weight[title], title))[:MODES_SHOWN]
    return tuple(title for title in worst if weight[title] > 0)


def _looks(block: Sequence[Job]) -> tuple[str, ...]:
    lines = []
    polarised = [job.ref for job in block if job.polarised and job.kind == "fit"]
    if polarised:
        lines.append(f"second look at the orientation of {refs_text(polarised)}")
    if any(job.task is not None and job.task.kind == "clean" for job in block):
        lines.append("let it dry; bottle and rags away before anything hot")
    return tuple(lines)


def _waits(block: Sequence[Job]) -> Iterable[str]:
    """Work that waits by itself is begun in time."""
    for job in block:
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


def _rank(rule: str, waits: bool) -> int:
    """Telling reasons first; that a later test covers the work goes without saying."""
    place = RULE_ORDER.index(rule) if rule in RULE_ORDER else len(RULE_ORDER)
    return 2 * len(RULE_ORDER) if rule == "gate" and not waits else place


def _tools(items: Sequence[JobRisk]) -> list[str]:
    """What to lay out and set for a block: of each of its sorts of joints, told once."""
    lines: dict[str, None] = {}
    for item in items:
        option = item.chosen
        own = SOURCES[option.heat].lines(option) if option.heat is not None else ()
        for label, value in own:
            lines[value if label in TOOL_LABELS else f"{label}: {value}"] = None
    for item in items:
        s = item.chosen.settings
        if s.preheat_c is not None:
            lines[f"board preheated to {dial_c(s.preheat_c)}"] = None
        supplies = [*map(solder_name, s.solders), *([flux_name(s.flux)] if s.flux else [])]
        if supplies:
            lines[", ".join(supplies)] = None
        if s.magnifier is not None:
            lines[f"{s.magnifier}, {s.power_x:g}x"] = None
    return list(lines)


def refs_text(refs: Iterable[str]) -> str:
    """References as people write them: runs of numbers become ranges."""
    return folded(refs, 2)
