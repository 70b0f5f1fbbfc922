"""Edges with their closure: circles found in stated rules, and never made by inferred ones."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.problems import UserProblem
from solderrisk.plan.order_bounds import bits, closure
from solderrisk.plan.results import Edge
from solderrisk.words import kind_and_ref

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


class CyclicOrder(UserProblem, ValueError):  # noqa: N818 - it names what is wrong
    """Stated rules form a circle; ``cycle`` is the shortest one."""

    def __init__(self, cycle: tuple[Edge, ...]) -> None:
        self.cycle = cycle
        steps = "; ".join(f"{e.first} before {e.then} ({e.rule}: {e.why})" for e in cycle)
        super().__init__(f"the order runs in a circle: {steps}; drop one of these")


class Net:
    """Edges with the closure kept up to date, so that no inferred edge makes a circle."""

    def __init__(self, jobs: Sequence[Job], stated: Sequence[Edge]) -> None:
        self.jobs = jobs
        self.index = {job.key: place for place, job in enumerate(jobs)}
        self.edges = list(stated)
        self.dropped: dict[tuple[str, str], list[str]] = {}
        arcs = [(self.index[e.first], self.index[e.then]) for e in stated]
        try:
            before, after = closure(len(jobs), arcs)
        except ValueError:
            raise CyclicOrder(shortest_cycle(stated)) from None
        self.before, self.after = list(before), list(after)

    def precede(
        self, then: Job, firsts: Iterable[Job], rule: str, why: str | Mapping[str, str]
    ) -> None:
        """Put all of ``firsts`` before ``then`` where no rule says otherwise.

        ``why`` is one reason for all, or one per first job's key. Edges that others imply
        are left out; those that would close a circle are noted.
        """
        target = self.index[then.key]
        sources = sum(1 << place for place in {self.index[job.key] for job in firsts})
        sources &= ~(1 << target)
        against = sources & self.after[target]
        if against:
            names = self.dropped.setdefault((rule, then.key), [])
            names.extend(self.jobs[place].key for place in bits(against))
        sources &= ~against & ~self.before[target]
        known = sources | self.before[target]
        direct = [place for place in bits(sources) if not self.after[place] & known]
        for place in direct:
            first = self.jobs[place].key
            reason = why if isinstance(why, str) else why[first]
            self.edges.append(Edge(first, then.key, rule, reason))
        self._join(sources, target)

    def _join(self, sources: int, target: int) -> None:
        early = sources
        for place in bits(sources):
            early |= self.before[place]
        late = self.after[target] | 1 << target
        for place in bits(late):
            self.before[place] |= early
        for place in bits(early):
            self.after[place] |= late

    def notes(self) -> tuple[str, ...]:
        return tuple(
            f"{then} does not wait for {_listed(firsts)} ({RULE_WORDS.get(rule, rule)}): "
            "what the kit states goes first"
            for (rule, then), firsts in self.dropped.items()
        )


def shortest_cycle(edges: Sequence[Edge]) -> tuple[Edge, ...]:
    """The shortest circle among edges, () where there is none; ties by the edges' order."""
    out: dict[str, list[Edge]] = {}
    waits: dict[str, int] = {}
    for edge in edges:
        out.setdefault(edge.first, []).append(edge)
        waits[edge.then] = waits.get(edge.then, 0) + 1
    free = [node for node in out if not waits.get(node)]
    while free:
        for edge in out.pop(free.pop(), ()):
            waits[edge.then] -= 1
            if not waits[edge.then]:
                free.append(edge.then)
    best: tuple[Edge, ...] = ()
    for start in out:
        found = _circle_through(start, out, len(best) or len(edges) + 1)
        if found:
            best = found
            if len(best) == 2:
                break
    return best


def _circle_through(start: str, out: Mapping[str, list[Edge]], limit: int) -> tuple[Edge, ...]:
    """The shortest circle through a node, if it has fewer edges than ``limit``."""
    came: dict[str, Edge] = {}
    queue = deque([(start, 0)])
    while queue:
        node, depth = queue.popleft()
        if depth + 1 >= limit:
            return ()
        for edge in out.get(node, ()):
            if edge.then in came:
                continue
            came[edge.then] = edge
            if edge.then == start:
                path = [edge]
                while path[-1].first != start:
                    path.append(came[path[-1].first])
                return tuple(reversed(path))
            queue.append((edge.then, depth + 1))
    return ()


def _listed(keys: Sequence[str]) -> str:
    names = [kind_and_ref(key)[1] for key in keys]
    if len(names) <= 3:
        return ", ".join(names)
    return f"{', '.join(names[:2])} and {len(names) - 2} more"
