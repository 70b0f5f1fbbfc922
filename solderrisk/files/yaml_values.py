"""YAML text to plain values: bounded, without surprises, with a place for every value.

Values are built straight from the parser's events, so no resolver or constructor of YAML 1.1
has a say: ``0402`` and ``12:30`` stay text, ``no`` is a word, keys are always text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from solderrisk.files.text import MAX_PROBLEMS, NOT_TEXT, FileProblems, Problem
from solderrisk.model.problems import Loc

MAX_NODES = 200_000
MAX_DEPTH = 40
MAX_ALIASES = 200
MAX_KEY = 200

PARSERS: tuple[Any, ...] = tuple(
    loader for loader in (getattr(yaml, "CSafeLoader", None), yaml.SafeLoader) if loader
)

# YAML 1.2 core, without octal, hexadecimal, infinities and leading zeros: those stay text.
_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,14})")
_FLOAT = re.compile(
    r"[-+]?(?:\.[0-9]{1,30}|(?:0|[1-9][0-9]{0,30})(?:\.[0-9]{0,30})?)(?:[eE][-+]?[0-9]{1,4})?"
)
_WORDS: dict[str, bool | None] = {
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys(("null", "Null", "NULL", "~", ""), None),
}
_MAY_BE_NUMBER = frozenset("+-.0123456789")


@dataclass(frozen=True)
class Mark:
    """Where a value is written, counted from 1; ``text`` is a plain scalar's source."""

    line: int
    column: int
    text: str | None = None

    @property
    def place(self) -> tuple[int, int]:
        return self.line, self.column


@dataclass
class Marks:
    """Places by location; an alias leads to what it stands for."""

    table: dict[Loc, Mark] = field(default_factory=lambda: {(): Mark(1, 1)})
    aliases: dict[Loc, Loc] = field(default_factory=dict)

    def at(self, loc: Loc) -> Mark:
        """The mark of a location, or of its nearest ancestor that is in the file."""
        known: Loc = ()
        for part in loc:
            step = (*known, part)
            if step in self.table:
                known = self.aliases.get(step, step)
        return self.table[known]

    def written(self, loc: Loc) -> Loc:
        """The location without what models put into it, such as a union's tag."""
        known: Loc = ()
        kept: Loc = ()
        for place, part in enumerate(loc):
            step = (*known, part)
            if step in self.table:
                known = self.aliases.get(step, step)
            elif place < len(loc) - 1:
                continue
            kept = (*kept, part)
        return kept


@dataclass(slots=True)
class _Frame:
    """A mapping or list being filled."""

    holder: Any
    keyed: bool
    loc: Loc
    anchor: str | None
    first_node: int
    key: str | None = None
    key_marks: dict[str, Any] = field(default_factory=dict)


def values_of(name: str, text: str) -> object:
    """Plain dicts, lists, text and numbers.

    Raises:
        FileProblems: not one well-formed, bounded YAML document with unique keys.
    """
    try:
        return _Builder(name).build(_events(text))
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        # Both parsers let bare ValueErrors out, e.g. for an escape that is no character.
        raise FileProblems([_syntax_problem(name, error)]) from None


def marks_of(name: str, text: str) -> Marks:
    """Where every value of a text stands that ``values_of`` takes."""
    marks = Marks()
    _Builder(name, marks).build(_events(text))
    return marks


class _Builder:
    """Builds values from events, within bounds."""

    def __init__(self, name: str, marks: Marks | None = None) -> None:
        self.name = name
        self.marks = marks
        self.stack: list[_Frame] = []
        self.anchors: dict[str, tuple[Any, int, Loc]] = {}
        self.nodes = self.aliases = self.documents = 0
        self.root: object = None
        self.twice: list[Problem] = []

    def build(self, events: Iterator[Any]) -> object:
        for event in events:
            kind = type(event)
            if kind is yaml.ScalarEvent:
                self._scalar(event)
            elif kind is yaml.MappingStartEvent:
                self._open(event, {})
            elif kind is yaml.SequenceStartEvent:
                self._open(event, [])
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                self._close()
            elif kind is yaml.AliasEvent:
                self._alias(event)
            elif kind is yaml.DocumentStartEvent:
                self.documents += 1
                if self.documents > 1:
                    self._refuse(event, "a second document starts here; keep one per file")
        if self.twice:
            raise FileProblems(self.twice)
        return self.root

    def _scalar(self, event: Any) -> None:
        # The hot path: most of a file is plain keys and values, so little is called here.
        self.nodes += 1
        if self.nodes > MAX_NODES or event.tag is not None:
            self._count(event, 0)
        text, plain = event.value, event.implicit[0]
        if not plain and not text.isprintable() and (bad := NOT_TEXT.search(text)):
            self._refuse(event, f"character U+{ord(bad.group()):04X} is not allowed; remove it")
        frame = self.stack[-1] if self.stack else None
        if frame is not None and frame.key is None and frame.keyed:
            if text in frame.key_marks or len(text) > MAX_KEY:
                self._bad_key(frame, text, event)
            frame.key = text
            frame.key_marks[text] = event.start_mark
            return
        value = resolve_plain(text) if plain else text
        if event.anchor is not None or self.marks is not None or frame is None:
            loc = self._put(value, event, text if plain else None)
            if event.anchor is not None:
                self.anchors[event.anchor] = (value, 1, loc)
        elif frame.keyed:
            frame.holder[frame.key] = value
            frame.key = None
        else:
            frame.holder.append(value)

    def _bad_key(self, frame: _Frame, text: str, event: Any) -> None:
        if len(text) > MAX_KEY:
            self._refuse(event, f"a key of {len(text)} characters; at most {MAX_KEY} are allowed")
        if len(self.twice) < MAX_PROBLEMS:
            first, mark = frame.key_marks[text].line + 1, event.start_mark
            message = f"key {text!r} is written twice (first in line {first}); keep one"
            self.twice.append(Problem(self.name, message, mark.line + 1, mark.column + 1))

    def _open(self, event: Any, holder: Any) -> None:
        self._count(event)
        if len(self.stack) >= MAX_DEPTH:
            self._refuse(event, f"nested deeper than {MAX_DEPTH} levels; flatten it")
        first = self.nodes
        loc = self._put(holder, event, None)
        keyed = type(holder) is dict
        self.stack.append(_Frame(holder, keyed, loc, event.anchor, first))

    def _close(self) -> None:
        frame = self.stack.pop()
        if frame.anchor is not None:
            size = self.nodes - frame.first_node + 1
            self.anchors[frame.anchor] = (frame.holder, size, frame.loc)

    def _alias(self, event: Any) -> None:
        self.aliases += 1
        if self.aliases > MAX_ALIASES:
            self._refuse(event, f"more than {MAX_ALIASES} aliases; write the values out")
        if event.anchor not in self.anchors:
            self._refuse(event, f"alias '*{event.anchor}' names nothing complete before it")
        value, size, target = self.anchors[event.anchor]
        self._count(event, size)
        loc = self._put(value, event, None)
        if self.marks is not None:
            self.marks.aliases[loc] = target

    def _put(self, value: object, event: Any, text: str | None) -> Loc:
        """Store a finished or opened value where it belongs and give its location."""
        mark = event.start_mark
        if not self.stack:
            self.root = value
            if self.marks is not None:
                self.marks.table[()] = Mark(mark.line + 1, mark.column + 1, text)
            return ()
        frame = self.stack[-1]
        holder = frame.holder
        if frame.keyed:
            if frame.key is None:
                self._refuse(event, "a key must be plain text")
            key = frame.key or ""
            holder[key] = value
            mark, frame.key = frame.key_marks[key], None
            part: str | int = key
        else:
            part = len(holder)
            holder.append(value)
        if self.marks is None:
            return ()
        loc = (*frame.loc, part)
        self.marks.table[loc] = Mark(mark.line + 1, mark.column + 1, text)
        return loc

    def _count(self, event: Any, size: int = 1) -> None:
        self.nodes += size
        if self.nodes > MAX_NODES:
            self._refuse(event, f"more than {MAX_NODES} values; split the file")
        if getattr(event, "tag", None) is not None:
            self._refuse(event, f"tag {event.tag[:60]!r} is not allowed; write plain values")

    def _refuse(self, event: Any, message: str) -> None:
        mark = event.start_mark
        problem = Problem(self.name, message, mark.line + 1, mark.column + 1)
        raise FileProblems([*self.twice, problem])


def resolve_plain(text: str) -> object:
    """The value of an unquoted scalar: null, true/false, a number, or the text itself."""
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in _MAY_BE_NUMBER:
        return text
    if _INT.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text) and not text.lstrip("+-").isdecimal():
        return float(text)
    return text


def _events(text: str) -> Iterator[Any]:
    return iter(yaml.parse(text, Loader=PARSERS[0]))


def _syntax_problem(name: str, error: Exception) -> Problem:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = [str(s) for s in (getattr(error, "context", ""), getattr(error, "problem", "")) if s]
    text = " ".join(", ".join(said or [str(error)]).split())[:160]
    hint = "check indentation, quotes and colons"
    if r"'\t'" in text:
        hint = "use spaces, not tabs"
    elif "nesting" in text:
        hint = "flatten it"
    place = (mark.line + 1, mark.column + 1) if mark else (None, None)
    return Problem(name, f"not valid YAML: {text}; {hint}", *place)
