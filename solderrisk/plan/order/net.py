"""Edges with their closure: circles found in stated rules, and never made by inferred ones."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import ALONE, Run
from solderrisk.plan.order.edges import THEN, Edge, Edges, Row, Waived, Why, bits, mask_of


class CyclicOrder(UserProblem, ValueError):  # noqa: N818 - it names what is wrong
    """Stated rules form a circle; ``cycle`` is the shortest one."""

    def __init__(self, cycle: tuple[Edge, ...]) -> None:
        self.cycle = cycle
        steps = "; ".join(f"{e.first} before {e.then} ({e.rule}: {e.why.told})" for e in cycle)
        super().__init__(f"the order runs in a circle: {steps}; drop one of these")


class Net:
    """Rows of edges with their closure kept up to date, so that no inferred one makes a circle."""

    def __init__(self, jobs: Sequence[Job], stated: Edges, run: Run = ALONE) -> None:
        self.jobs, self.run = jobs, run
        self.index = {job.key: place for place, job in enumerate(jobs)}
        self.rows = list(stated.rows)
        self.dropped: dict[tuple[str, str], int] = {}
        try:
            self.before = list(stated.before)
        except ValueError:
            raise CyclicOrder(shortest_cycle(stated)) from None
        self.after = list(stated.after)

    def mask(self, jobs: Iterable[Job]) -> int:
        return mask_of([self.index[job.key] for job in jobs])

    def precede(
        self,
        thens: Sequence[Job],
        firsts: int,
        rule: str,
        why: Why,
        *,
        apart: Mapping[int, Mapping[int, Why]] | None = None,
    ) -> None:
        """Put all of ``firsts`` (a mask) before each of ``thens`` where no rule says otherwise.

        ``why`` may name ``FIRST`` and ``THEN``; ``apart``: reasons of single pairs, by the later
        one. Pairs that others imply are left out; those that would close a circle are noted.
        """
        self.run.check()
        waiting = [self.index[job.key] for job in thens]
        while waiting:
            # Those with the same others to wait for are put in together.
            allowed = firsts & ~self.after[waiting[0]] & ~(1 << waiting[0])
            now: list[int] = []
            later: list[int] = []
            for then in waiting:
                same = firsts & ~self.after[then] & ~(1 << then) == allowed
                (now if same else later).append(then)
            for then in now:
                against = firsts & self.after[then]
                if against:
                    key = (rule, self.jobs[then].key)
                    self.dropped[key] = self.dropped.get(key, 0) | against
            self._tell(now, allowed, rule, why, apart or {})
            self._join(now, allowed)
            waiting = later

    def _tell(
        self,
        thens: Sequence[int],
        firsts: int,
        rule: str,
        why: Why,
        apart: Mapping[int, Mapping[int, Why]],
    ) -> None:
        if all(not firsts & ~self.before[then] for then in thens):
            return
        last = mask_of([first for first in bits(firsts) if not self.after[first] & firsts])
        among = mask_of(thens)  # what waits for one of them waits for all that it waits for
        for then in thens:
            direct = last & ~self.before[then]
            if direct and not self.before[then] & among:
                told = why.naming(THEN, self.jobs[then].ref)
                self.rows.append(Row(then, direct, rule, told, apart.get(then, {})))

    def _join(self, thens: Sequence[int], firsts: int) -> None:
        have = -1
        late = mask_of(thens)
        for then in thens:
            have &= self.before[then]
            late |= self.after[then]
        early = firsts & ~have
        for first in bits(early):
            early |= self.before[first]
        early &= ~have
        common = -1
        for first in bits(early):
            common &= self.after[first]
            self.after[first] |= late
        for then in bits(late & ~common):
            self.before[then] |= early

    def edges(self) -> Edges:
        """All rows, whose closure is known."""
        return Edges(self.jobs, self.rows, (tuple(self.before), tuple(self.after)))

    def waived(self) -> tuple[Waived, ...]:
        return tuple(
            Waived(rule, then, tuple(self.jobs[first].ref for first in bits(firsts)))
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
