"""The one way in which answers are kept."""

from __future__ import annotations

from collections.abc import Sequence
from threading import Barrier, Thread

from solderrisk.model.base import Cache


def test_an_answer_is_worked_out_once_and_the_oldest_goes_first() -> None:
    made: list[int] = []
    cache: Cache[int, int] = Cache(2)

    def ask(number: int) -> int:
        return cache.get(number, lambda: made.append(number) or number * number)

    assert [ask(n) for n in (1, 2, 1, 3, 1, 2)] == [1, 4, 1, 9, 1, 4]
    assert made == [1, 2, 3, 2]
    assert len(cache) == 2


def test_what_is_missing_is_made_together_and_each_once() -> None:
    asked: list[list[str]] = []
    cache: Cache[str, int] = Cache(10)

    def make(names: Sequence[str]) -> list[int]:
        asked.append(list(names))
        return [len(name) for name in names]

    assert cache.many(["a", "bb", "a"], make) == [1, 2, 1]
    assert cache.many(["bb", "ccc"], make) == [2, 3]
    assert asked == [["a", "bb"], ["ccc"]]
    assert cache.many(["dddd"] * 3, make) == [4, 4, 4]


def test_more_than_it_holds_is_still_answered() -> None:
    cache: Cache[int, int] = Cache(3)
    assert cache.many(list(range(10)), lambda keys: [-key for key in keys]) == [
        -key for key in range(10)
    ]
    assert len(cache) == 3


def test_threads_are_given_the_same_answer() -> None:
    cache: Cache[str, object] = Cache(5)
    start = Barrier(8)
    found: list[object] = []

    def ask() -> None:
        start.wait()
        found.append(cache.get("x", object))

    threads = [Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(each) for each in found}) == 1
