"""What was computed once is kept, per set of reference data."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from typing import Generic, TypeVar

from solderrisk.model.physics_data import PhysicsData

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")

MAX_DATA = 4
MAX_ENTRIES = 50_000


class Memo(Generic[K, V]):
    """Answers by case. Data are told apart by identity: they are read once and frozen."""

    def __init__(self) -> None:
        self._tables: OrderedDict[int, tuple[PhysicsData, dict[K, V]]] = OrderedDict()

    def table(self, data: PhysicsData) -> dict[K, V]:
        """The answers kept for these data."""
        held = self._tables.get(id(data))
        if held is None or held[0] is not data:
            held = (data, {})
            self._tables[id(data)] = held
            while len(self._tables) > MAX_DATA:
                self._tables.popitem(last=False)
        if len(held[1]) > MAX_ENTRIES:
            held[1].clear()
        return held[1]

    def many(
        self,
        keys: Sequence[K],
        data: PhysicsData,
        compute: Callable[[Sequence[K], PhysicsData], Sequence[V]],
    ) -> tuple[V, ...]:
        """Answers in the order of ``keys``; those not kept yet are computed together."""
        table = self.table(data)
        answers = {key: table.get(key) for key in keys}
        missing = [key for key, answer in answers.items() if answer is None]
        if missing:
            fresh = dict(zip(missing, compute(missing, data), strict=True))
            table.update(fresh)
            answers.update(fresh)
        return tuple(answers[key] for key in keys)  # type: ignore[misc]

    def one(self, key: K, data: PhysicsData, compute: Callable[[K, PhysicsData], V]) -> V:
        table = self.table(data)
        if key not in table:
            table[key] = compute(key, data)
        return table[key]

    def clear(self) -> None:
        self._tables.clear()
