"""What was worked out once is kept: bounded, safe between threads, found again by value."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from threading import Lock
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Cache(Generic[K, V]):
    """Answers by question, at most ``most`` of them: the one asked for longest ago goes first.
    Two threads may work out the same answer at once; both are then given the first one."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[K, V] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: K, make: Callable[[], V]) -> V:
        """The answer kept for ``key``, or a new one from ``make``."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        return self._keep(key, make())

    def many(self, keys: Sequence[K], make: Callable[[Sequence[K]], Sequence[V]]) -> list[V]:
        """Answers in the order of ``keys``; those not kept are made together, each once."""
        with self._lock:
            found = {key: self._kept[key] for key in keys if key in self._kept}
        missing = list(dict.fromkeys(key for key in keys if key not in found))
        if missing:
            fresh = zip(missing, make(missing), strict=True)
            found.update((key, self._keep(key, value)) for key, value in fresh)
        return [found[key] for key in keys]

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()

    def _keep(self, key: K, value: V) -> V:
        with self._lock:
            value = self._kept.setdefault(key, value)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
            return value
