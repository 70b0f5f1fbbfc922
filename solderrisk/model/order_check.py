"""Whether the order that a kit asks for can exist: selectors that name something, no circle."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from solderrisk.model.kit import Kit
from solderrisk.model.problems import KitProblem, Loc, path_text
from solderrisk.model.selectors import JobIndex, parted

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
