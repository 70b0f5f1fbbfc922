"""What rules name by references and keys, and rules that contradict each other."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Protocol

from solderrisk.model.base import KitProblem
from solderrisk.model.problems import Loc, path_text
from solderrisk.model.refs import ref_range

if TYPE_CHECKING:
    from solderrisk.model.kit import Kit

KIND_WORDS: dict[str, tuple[str, ...]] = {
    "lifts": ("lift",),
    "fits": ("fit",),
    "wires": ("wire",),
    "tasks": ("task",),
    "gates": ("gate",),
    "all": ("lift", "fit", "wire"),
}
PREFIXES = ("fit", "lift", "wire", "task", "gate", "board", "donor")

_NUMBERED = re.compile(r"(.+)\.\d+")


class Selectable(Protocol):
    """What a selector looks at; ``Job`` has it."""

    @property
    def key(self) -> str: ...
    @property
    def ref(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def place(self) -> str: ...


class JobIndex(NamedTuple):
    """Jobs by everything a selector may say; build it once for many selectors."""

    order: dict[str, int]
    by_name: dict[str, tuple[str, ...]]
    numbers: dict[str, list[int]]

    @classmethod
    def of(cls, jobs: Iterable[Selectable]) -> JobIndex:
        order: dict[str, int] = {}
        table: dict[str, list[str]] = {}
        lifted: dict[str, list[str]] = {}
        for job in jobs:
            order[job.key] = len(order)
            names = _names(job)
            for name in names:
                table.setdefault(f"{job.kind}:{name}", []).append(job.key)
                plain = lifted if job.kind == "lift" else table
                plain.setdefault(name, []).append(job.key)
            if job.place:
                place = job.place if job.kind == "lift" else f"board:{job.place}"
                table.setdefault(place, []).append(job.key)
            for word, kinds in KIND_WORDS.items():
                if job.kind in kinds:
                    table.setdefault(word, []).append(job.key)
        by_name = {name: tuple(keys) for name, keys in {**lifted, **table}.items()}
        return cls(order, by_name, _numbers(by_name))

    def keys(self, selector: str) -> tuple[str, ...]:
        """Keys of the jobs that a selector names, each once, in the jobs' order."""
        found = {key for item in _items(selector) for key in self._item(item)}
        return tuple(sorted(found, key=self.order.__getitem__))

    def unmatched(self, selector: str) -> tuple[str, ...]:
        """Items of a selector that name no job at all."""
        return tuple(item for item in _items(selector) if not self._item(item))

    def close_to(self, item: str) -> str | None:
        """The name that looks most like an item which names nothing."""
        # Recording at the bench reads references without the time this import takes.
        from difflib import get_close_matches

        near = get_close_matches(item[:60], list(self.by_name)[:2000], n=1, cutoff=0.6)
        return near[0] if near else None

    def _item(self, item: str) -> tuple[str, ...]:
        found = self.by_name.get(item)
        if found is not None:
            return found
        head, colon, tail = item.partition(":")
        prefix, refs = (f"{head}:", tail.strip()) if colon and head in PREFIXES else ("", item)
        try:
            span = ref_range(refs)
        except ValueError:
            span = None
        if span is None:
            return self.by_name.get(prefix + refs, ())
        letters, start, stop = prefix + span[0], span[1], span[2]
        numbers = self.numbers.get(letters, [])
        inside = numbers[bisect_left(numbers, start) : bisect_right(numbers, stop)]
        return tuple(key for number in inside for key in self.by_name[f"{letters}{number}"])


def select(selector: str, jobs: Sequence[Selectable]) -> tuple[str, ...]:
    """Keys of the jobs that a selector names, in the jobs' order; () where it names none.

    A gate or task named by its own selector is not left out: callers drop such self-references.
    """
    return JobIndex.of(jobs).keys(selector)


def parted(
    first: Iterable[str], then: Iterable[str], own: str = ""
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Two sets of keys as the ends of a rule: ``first`` before ``then``.

    What both name belongs to the narrower one: 'all fits before U1' means all the others. The
    key ``own`` (a gate's or task's) is dropped from both. An end may come out empty.
    """
    early = dict.fromkeys(key for key in first if key != own)
    late = dict.fromkeys(key for key in then if key != own)
    wide, narrow = (early, late) if len(early) >= len(late) else (late, early)
    for key in narrow:
        wide.pop(key, None)
    return tuple(early), tuple(late)


def _names(job: Selectable) -> tuple[str, ...]:
    # A placement of quantity n with one reference makes REF.1 .. REF.n; REF names them all.
    numbered = _NUMBERED.fullmatch(job.ref)
    return (job.ref, numbered.group(1)) if numbered else (job.ref,)


def _numbers(names: Iterable[str]) -> dict[str, list[int]]:
    """Numbers in use by their letters, sorted, so that a range costs what it finds."""
    table: dict[str, list[int]] = {}
    for name in names:
        letters = name.rstrip("0123456789")
        digits = name[len(letters) :]
        if digits and len(digits) < 10 and str(int(digits)) == digits:
            table.setdefault(letters, []).append(int(digits))
    return {letters: sorted(numbers) for letters, numbers in table.items()}


def _items(selector: str) -> tuple[str, ...]:
    return tuple(item.strip() for item in re.split(r"[,;]", selector) if item.strip())


# Shortest circles are looked for from at most this many starts, among at most so many steps.
MAX_STARTS = 100
MAX_STEPS = 400_000
MAX_HINTS = 40


@dataclass(frozen=True)
class JobHead:
    """What the order needs to know of a job, and where it is written."""

    key: str
    ref: str
    kind: str
    place: str
    loc: Loc
    feeds: str | None = None


@dataclass(frozen=True)
class _Step:
    """``first`` before ``then`` and the place in the kit that asks for it."""

    first: str
    then: str
    loc: Loc


def order_problems(kit: Kit, heads: Sequence[JobHead]) -> list[KitProblem]:
    """Selectors that name nothing, rules with one end, and the shortest circular order."""
    index = JobIndex.of(heads)
    problems = list(_unmatched(kit, index))
    steps = [
        _Step(head.key, head.feeds, head.loc)
        for head in heads
        if head.feeds is not None and head.feeds in index.order
    ]
    for loc, hub, first, then in _constraints(kit, index):
        if hub is None and (not first or not then):
            if not problems:
                problems.append(KitProblem(loc, "first and then name the same; part them"))
            continue
        node = hub or f"rule:{loc[1]}"
        steps.extend(_Step(key, node, (*loc, "after" if hub else "first")) for key in first)
        steps.extend(_Step(node, key, (*loc, "before" if hub else "then")) for key in then)
        if len(steps) > MAX_STEPS:
            message = f"the rules of order name more than {MAX_STEPS} jobs; narrow them"
            return [*problems, KitProblem(loc, message)]
    circle = _shortest_circle(steps)
    if circle:
        problems.append(_circle_problem(circle))
    return problems


def _selectors(kit: Kit) -> Iterator[tuple[Loc, str]]:
    for name, steps in kit.steps():
        for index, step in enumerate(steps):
            for side, selectors in (("after", step.after), ("before", step.before)):
                for place, selector in enumerate(selectors):
                    yield (name, index, side, place), selector
    for index, rule in enumerate(kit.rules):
        yield ("rules", index, "first"), rule.first
        yield ("rules", index, "then"), rule.then


def _unmatched(kit: Kit, index: JobIndex) -> Iterator[KitProblem]:
    hints = 0
    for loc, selector in _selectors(kit):
        for item in index.unmatched(selector)[:3]:
            hints += 1
            near = index.close_to(item) if hints <= MAX_HINTS else None
            hint = f"did you mean {near!r}?" if near else "write a reference of this kit"
            yield KitProblem(loc, f"{item!r} names nothing to do; {hint}")


def _constraints(
    kit: Kit, index: JobIndex
) -> Iterator[tuple[Loc, str | None, tuple[str, ...], tuple[str, ...]]]:
    """Location, the gate's or task's own key (None for rules), what is before, what after."""
    for name, steps in kit.steps():
        for place, step in enumerate(steps):
            own = f"{name.removesuffix('s')}:{step.ref}"
            first = _named(index, step.after)
            then = _named(index, step.before)
            yield (name, place), own, *parted(first, then, own)
    for place, rule in enumerate(kit.rules):
        yield ("rules", place), None, *parted(index.keys(rule.first), index.keys(rule.then))


def _named(index: JobIndex, selectors: Sequence[str]) -> dict[str, None]:
    """Keys that several selectors name; stops where there is nothing left to name."""
    found: dict[str, None] = {}
    for selector in dict.fromkeys(selectors):
        if len(found) == len(index.order):
            break
        found.update(dict.fromkeys(index.keys(selector)))
    return found


def _shortest_circle(steps: Sequence[_Step]) -> list[_Step]:
    out = _in_circles(steps)
    # Every circle passes a gate, a task or a rule: lifts and fits alone make none.
    starts = [node for node in out if node.split(":")[0] in ("gate", "task", "rule")]
    best: list[_Step] = []
    for start in starts[:MAX_STARTS]:
        found = _circle_through(start, out)
        if found and (not best or len(found) < len(best)):
            best = found
    return best


def _in_circles(steps: Sequence[_Step]) -> dict[str, list[_Step]]:
    """Outgoing steps of the nodes left when those without a predecessor are peeled off."""
    out: dict[str, list[_Step]] = {}
    waits: dict[str, int] = {}
    for step in steps:
        out.setdefault(step.first, []).append(step)
        waits[step.then] = waits.get(step.then, 0) + 1
    free = [node for node in out if not waits.get(node)]
    while free:
        for step in out.pop(free.pop(), ()):
            waits[step.then] -= 1
            if not waits[step.then]:
                free.append(step.then)
    return out


def _circle_through(start: str, out: dict[str, list[_Step]]) -> list[_Step]:
    came: dict[str, _Step] = {}
    queue = deque([start])
    while queue:
        for step in out.get(queue.popleft(), ()):
            if step.then in came:
                continue
            came[step.then] = step
            if step.then == start:
                return _walk_back(start, came)
            queue.append(step.then)
    return []


def _walk_back(start: str, came: dict[str, _Step]) -> list[_Step]:
    path = [came[start]]
    while path[-1].first != start:
        path.append(came[path[-1].first])
    return path[::-1]


def _circle_problem(circle: list[_Step]) -> KitProblem:
    # Told from the first place in the file, a gate, task or rule rather than a part.
    entries = [step for step in circle if not step.first.startswith("rule:")]
    start = circle.index(
        min(entries, key=lambda step: (step.loc[0] in ("placements", "lifts"), str(step.loc)))
    )
    circle = [*circle[start:], *circle[:start]]
    parts = []
    steps = iter(circle)
    for step in steps:
        # Two steps through a rule's own node are one rule to its author.
        then = next(steps).then if step.then.startswith("rule:") else step.then
        loc = step.loc[:2] if step.then.startswith("rule:") else step.loc
        parts.append(f"{step.first} before {then} ({path_text(loc)})")
    more = f" and {len(parts) - 6} more" if len(parts) > 6 else ""
    message = f"the order runs in a circle: {', '.join(parts[:6])}{more}; drop one of these"
    return KitProblem(circle[0].loc, message)
