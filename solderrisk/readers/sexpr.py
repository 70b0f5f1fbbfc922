"""A small reader of s-expressions: nested lists with the line each of them begins on.

Atoms stay text; quoted atoms keep their quotes until ``plain`` takes them off, so that
brackets inside quotes are never taken for structure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

MAX_DEPTH = 120
MAX_TOKENS = 12_000_000

_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()\n]|[^\s()"]+', re.DOTALL)
_BARE_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()]|[^\s()"]+', re.DOTALL)
_STAMPS = re.compile(r"\((?:tstamp|uuid|tedit) [^()\"\n]*\)")
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)


class Malformed(ValueError):  # noqa: N818 - a fact about a text
    """The text is no complete s-expression; ``line`` says where."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


class Node(list[Any]):
    """A list; its first item is its word."""

    __slots__ = ("line",)

    def __init__(self, line: int) -> None:
        super().__init__()
        self.line = line

    def each(self, word: str) -> Iterator[Node]:
        """Child lists that begin with this word."""
        for item in self:
            if item.__class__ is Node and item and item[0] == word:
                yield item

    def first(self, word: str) -> Node | None:
        for item in self:
            if item.__class__ is Node and item and item[0] == word:
                return item
        return None

    def text(self, index: int, default: str = "") -> str:
        """The atom at an index, unquoted."""
        if index < len(self) and self[index].__class__ is str:
            return plain(self[index])
        return default

    def number(self, index: int, default: float = 0.0) -> float:
        if index < len(self) and self[index].__class__ is str:
            try:
                value = float(self[index])
            except ValueError:
                return default
            if -1e6 < value < 1e6:
                return value
        return default

    def atoms(self) -> list[str]:
        return [plain(item) for item in self[1:] if item.__class__ is str]


def plain(atom: str) -> str:
    """An atom without its quotes."""
    if len(atom) >= 2 and atom[0] == '"':
        inner = atom[1:-1]
        return _ESCAPE.sub(r"\1", inner) if "\\" in inner else inner
    return atom


def parse_quick(text: str) -> Node:
    """The first list of a short text, without lines; three times as fast as ``parse``.

    Raises:
        Malformed: unbalanced, too deep, or no list at all.
    """
    root = Node(1)
    here, stack = root, []
    for token in _BARE_TOKEN.findall(_STAMPS.sub("", text)):
        if token == "(":
            node = Node(1)
            here.append(node)
            stack.append(here)
            here = node
        elif token == ")":
            if not stack:
                raise Malformed("a closing bracket too many", 1)
            here = stack.pop()
        else:
            here.append(token)
        if len(stack) > MAX_DEPTH:
            raise Malformed(f"brackets nested more than {MAX_DEPTH} deep", 1)
    if stack:
        raise Malformed("the file ends inside a list; it is cut short", 1)
    for item in root:
        if item.__class__ is Node:
            return item
    raise Malformed("no list in it", 1)


def parse(text: str, skip: frozenset[str] = frozenset()) -> Node:
    """The first list of a text. Lists that begin with a word of ``skip`` are left out.

    Raises:
        Malformed: unbalanced, too deep, too large, or no list at all.
    """
    line, depth, count = 1, 0, 0
    root = Node(1)
    here, stack = root, [root]
    skipping = 0  # depth inside a list that is left out
    fresh = False  # the next atom is the word of a list
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token == "(":
            depth += 1
            if depth > MAX_DEPTH:
                raise Malformed(f"brackets nested more than {MAX_DEPTH} deep", line)
            if skipping:
                skipping += 1
                continue
            node = Node(line)
            here.append(node)
            stack.append(node)
            here, fresh = node, True
        elif token == ")":
            depth -= 1
            if depth < 0:
                raise Malformed("a closing bracket too many", line)
            if skipping > 1:
                skipping -= 1
                continue
            skipping = 0
            stack.pop()
            here, fresh = stack[-1], False
            if not depth:
                break
        elif token == "\n":
            line += 1
        elif not skipping:
            if fresh and token in skip:
                stack[-2].pop()
                skipping = 1
            else:
                here.append(token)
            fresh = False
            count += 1
            if count > MAX_TOKENS:
                raise Malformed(f"more than {MAX_TOKENS} words", line)
        if token[0] == '"':
            line += token.count("\n")
    if depth:
        raise Malformed("the file ends inside a list; it is cut short", line)
    if not root or root[0].__class__ is not Node:
        raise Malformed("no list in it", 1)
    first: Node = root[0]
    return first
