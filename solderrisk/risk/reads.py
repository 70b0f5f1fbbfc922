"""Answers kept by what was read to work them out.

A bench has two dozen fields and a purchase changes one of them; most answers never looked at
it. Which fields an answer depends on is not written down anywhere, where it could be wrong: it
is noted while the answer is made.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from typing import Any, Generic, TypeVar, cast

T = TypeVar("T")
V = TypeVar("V")
# Of which of the subjects, a field of it, or a method or function and what that was asked.
Read = tuple[int, str | Callable[..., Any], tuple[Any, ...] | None]


class Reads:
    """What was read of some subjects, each once and in order."""

    def __init__(self) -> None:
        self.values: dict[Read, Any] = {}

    def of(self, subject: T, number: int = 0) -> T:
        """A subject, with what is read of it noted."""
        return cast(T, _Watched(subject, number, self.values))


class _Watched:
    __slots__ = ("_number", "_subject", "_values")

    def __init__(self, subject: object, number: int, values: dict[Read, Any]) -> None:
        self._subject = subject
        self._number = number
        self._values = values

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._subject, name)
        if callable(value):
            return partial(self._ask, name, value)
        self._values[self._number, name, None] = value
        return value

    def _ask(self, name: str, method: Callable[..., Any], *asked: Any) -> Any:
        value = self._values[self._number, name, asked] = method(*asked)
        return value

    def _found_by(self, function: Callable[..., V], asked: tuple[Any, ...]) -> V:
        value = one_read(function, self._subject, *asked)
        self._values[self._number, function, asked] = value
        return value

    # What is taken as a whole cannot be told apart by its fields.
    __hash__ = None  # type: ignore[assignment]


def one_read(function: Callable[..., V], subject: object, *asked: Hashable) -> V:
    """What a function makes of a subject; of a watched one only that counts as read, not what
    the function looks at for it."""
    if isinstance(subject, _Watched):
        return subject._found_by(function, asked)
    return function(subject, *asked)


class _Node:
    """Asks one read and goes on by its value; a leaf asks none and holds the answer."""

    __slots__ = ("after", "answer", "read")

    def __init__(self, read: Read | None, answer: object) -> None:
        self.read = read
        self.answer = answer if read is None else None
        self.after: dict[Any, _Node] = {}


class KeptByReads(Generic[V]):
    """Answers about subjects of some kinds. Those that agree in all that an answer was made
    from have the same one; it must depend on nothing else that changes, and is never None."""

    def __init__(self) -> None:
        self._root: _Node | None = None

    def get(self, make: Callable[..., V], *subjects: object) -> V:
        """The answer kept for such subjects, or a new one: ``make`` is given them watched."""
        found = self.find(*subjects)
        if found is None:
            reads = Reads()
            answer = make(*(reads.of(each, n) for n, each in enumerate(subjects)))
            found = self.keep(reads, answer, *subjects)
        return found

    def find(self, *subjects: object) -> V | None:
        """The answer kept for such subjects, None where there is none yet."""
        node = self._root
        while node is not None and node.read is not None:
            node = node.after.get(_value(subjects, node.read))
        return None if node is None else cast(V, node.answer)

    def keep(self, reads: Reads, answer: V, *subjects: object) -> V:
        """Keep a new answer with what was read for it, and give back the one that is kept."""
        left = dict(reads.values)
        if self._root is None:
            self._root = _Node(next(iter(left), None), answer)
        node = self._root
        while (read := node.read) is not None:
            # What is asked on the way and was not read tells apart more than it has to: no harm.
            value = left.pop(read) if read in left else _value(subjects, read)
            node = node.after.setdefault(value, _Node(next(iter(left), None), answer))
        return cast(V, node.answer)


def _value(subjects: tuple[object, ...], read: Read) -> Any:
    number, what, asked = read
    if not isinstance(what, str):
        return one_read(what, subjects[number], *(asked or ()))
    value = getattr(subjects[number], what)
    return value if asked is None else value(*asked)
