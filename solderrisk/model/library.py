"""The footprint library as a value: found by name, as board files call it, by everyday words."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from fnmatch import translate
from functools import cached_property, lru_cache
from itertools import pairwise

from solderrisk.model.footprint import Footprint


def name_key(name: str) -> str:
    """Names compare without case, spaces and underscores."""
    return name.casefold().replace(" ", "").replace("_", "-")


_Natural = tuple[tuple[int, float, str], ...]


def _natural(name: str) -> _Natural:
    """Names in the order of their numbers: 1X2 before 1X10."""
    parts = re.findall(r"\d+(?:\.\d+)?|\D+", name)
    return tuple((0, float(p), "") if p[0].isdigit() else (1, 0.0, p) for p in parts)


@dataclass(frozen=True)
class Search:
    """What everyday words find: definitions, closest first; ``left_out`` are the words that
    none of them has, ``near`` known words that look like those."""

    found: tuple[Footprint, ...]
    left_out: tuple[str, ...] = ()
    near: tuple[str, ...] = ()


# A hit on the name itself is closer than one on an alias, a title or an everyday word.
_NAME, _ALIAS, _WORD, _TITLE, _BEGINNING = 0.0, 0.5, 0.6, 0.8, 1.0
_STEP = 0.02  # a word further on in a text says less
_PART_NUMBER = re.compile(r"[a-z]{1,3}(\d{3,})[a-z]{0,3}")  # a maker's letters round it


def _words(text: str) -> list[str]:
    """Lower-case words, singular; numbers keep their point, signs and hyphens part words."""
    return [_singular(word) for word in re.findall(r"\d+(?:\.\d+)?[a-z]*|[a-z]+\d*", _plain(text))]


def _plain(text: str) -> str:
    return text.casefold().replace("_", " ").replace(",", ".")


def _singular(word: str) -> str:
    if re.search(r"(?:ch|sh|ss|x)es$", word):
        return word[:-2]
    return word[:-1] if len(word) > 3 and re.search(r"[^su\d]s$", word) else word


def _closeness(footprint: Footprint) -> dict[str, float]:
    """The words that a definition is found by, each by how close a hit on it is; 0 closest."""
    table: dict[str, float] = {}
    texts = [
        (_NAME, footprint.name),
        *((_ALIAS, alias) for alias in footprint.names[1:]),
        # The first everyday words say most; those of the whole file come last.
        *((_WORD + n * _STEP / 4, word) for n, word in enumerate(footprint.words)),
        (_TITLE, footprint.title),
        (_TITLE, footprint.family),
    ]
    for start, text in texts:
        words = _words(text)
        close = start + len(words) * _STEP / 4
        for n, word in enumerate(words):
            table[word] = min(close + n * _STEP, table.get(word, 9.0))
        for pair in map("".join, pairwise(words)):  # "key switch" is also "keyswitch"
            table[pair] = min(close, table.get(pair, 9.0))
    return table


@lru_cache(maxsize=4096)
def _fits(pattern: str) -> Callable[[str], object]:
    return re.compile(translate(pattern)).match


@dataclass(frozen=True)
class Library:
    """Footprints by name; a kit's own definitions go before the library's."""

    by_key: Mapping[str, Footprint] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash(frozenset(self.by_key))

    @classmethod
    def of(cls, footprints: Iterable[Footprint]) -> Library:
        """Build from definitions; the first of a name wins."""
        table: dict[str, Footprint] = {}
        for footprint in footprints:
            for name in (footprint.name, *footprint.aliases):
                table.setdefault(name_key(name), footprint)
            for name in footprint.capacitor_names:
                table.setdefault(name_key(name), footprint.as_capacitor)
        return cls(table)

    def get(self, name: str) -> Footprint | None:
        return self.by_key.get(name_key(name))

    def as_on_boards(self, name: str) -> Footprint | None:
        """The definition that board files call by this name; the closest pattern wins.

        ``name`` is upper case, without the library's prefix.
        """
        best = max(
            ((len(pattern), key) for key, pattern, fits in self._patterns if fits(name)),
            default=None,
            key=lambda found: found[0],
        )
        return self.by_key[best[1]] if best else None

    @cached_property
    def _patterns(self) -> list[tuple[str, str, Callable[[str], object]]]:
        return [
            (name_key(footprint.name), pattern, _fits(pattern))
            for footprint in self
            for pattern in footprint.board_names
        ]

    def with_front(self, footprints: Iterable[Footprint]) -> Library:
        """A library in which these definitions go first."""
        front = Library.of(footprints)
        return Library({**self.by_key, **front.by_key}) if front.by_key else self

    def close_to(self, name: str) -> tuple[str, ...]:
        """Names of its sizes, else names very like it, else what its words find, else names that
        look somewhat like it; best first, at most three."""
        begun = [f.name for f in self if name_key(f.name).startswith(f"{name_key(name)}-")]
        if begun:
            return tuple(sorted(begun, key=_natural)[:3])
        alike = self._alike(name, 0.8)
        search = self.search(name)
        if not alike and search.found and not search.left_out:
            return tuple(footprint.name for footprint in search.found[:3])
        return alike or self._alike(name, 0.6)

    def _alike(self, name: str, cutoff: float) -> tuple[str, ...]:
        near = get_close_matches(name_key(name), list(self.by_key), n=6, cutoff=cutoff)
        return tuple(dict.fromkeys(self.by_key[key].name for key in near))[:3]

    def search(self, text: str) -> Search:
        """Definitions that everyday words find: in any order, with or without spaces and
        hyphens, singular or plural. Where no definition has them all, those with all but one.
        """
        words = _words(text)[:8]
        if text.strip() and not words:
            return Search((), (text.strip()[:40],))
        found = self._ranked(self._hits(words), name_key(text.strip()))
        if found or not words:
            return Search(found)
        lost = [word for word in words if not self._hits([word])]
        near = tuple(
            dict.fromkeys(n for w in lost or words for n in get_close_matches(w, self._known, n=2))
        )
        # The word to give up is an unknown one, else the one that leaves the closest hits.
        fewer = []
        for i, word in enumerate(words if len(words) > 1 else ()):
            hits = self._hits([*words[:i], *words[i + 1 :]])
            if hits:
                fewer.append((word not in lost, min(hits.values()), i, hits))
        if fewer:
            _, _, i, hits = min(fewer, key=lambda f: f[:3])
            return Search(self._ranked(hits, ""), (words[i],), near)
        return Search((), tuple(lost or words), near)

    def _ranked(self, hits: Mapping[int, float], whole: str) -> tuple[Footprint, ...]:
        ranked = []
        for number, close in hits.items():
            footprint = self._listed[number]
            named = [name_key(name) for name in footprint.names]
            rank = (whole not in named, round(close, 6), _natural(footprint.name))
            ranked.append((rank, footprint))
        return tuple(footprint for _, footprint in sorted(ranked, key=lambda r: r[0]))

    def _hits(self, words: Sequence[str]) -> dict[int, float]:
        """Definitions that have every word, by the sum of closeness; two words may stand for
        one that is run together."""
        if not words:
            return dict.fromkeys(range(len(self._listed)), 0.0)
        best: dict[int, float] = {}
        for taken in range(1, min(len(words), 2) + 1):
            having = self._having("".join(words[:taken]))
            rest = self._hits(words[taken:]) if having else {}
            for number in having.keys() & rest.keys():
                close = having[number] + rest[number]
                best[number] = min(close, best.get(number, close))
        return best

    def _having(self, word: str) -> dict[int, float]:
        """Letters also find the words that they begin, numbers do not."""
        postings, spelled = self._index
        number = _PART_NUMBER.fullmatch(word)
        found = dict(postings.get(word) or (postings.get(number[1], {}) if number else {}))
        if len(word) < 2 or word[-1].isdigit():
            return found
        for known in spelled[bisect_left(spelled, word) :]:
            if not known.startswith(word):
                break
            for entry, close in postings[known].items():
                found[entry] = min(close + _BEGINNING, found.get(entry, 9.0))
        return found

    @cached_property
    def _listed(self) -> list[Footprint]:
        return list(self)

    @cached_property
    def _index(self) -> tuple[dict[str, dict[int, float]], list[str]]:
        postings: dict[str, dict[int, float]] = {}
        for number, footprint in enumerate(self._listed):
            for word, close in _closeness(footprint).items():
                postings.setdefault(word, {})[number] = close
        return postings, sorted(postings)

    @cached_property
    def _known(self) -> list[str]:
        """Words of names, titles and everyday speech, for what an unknown one looks like."""
        texts = (text for f in self for text in (f.name, f.title, f.family, *f.words) if text)
        return sorted({word for text in texts for word in _words(text) if len(word) > 2})

    def __iter__(self) -> Iterator[Footprint]:
        # A chip that is found as a capacitor is no other definition.
        found = (f for f in self.by_key.values() if not (f.capacitor_names and f.ceramic_capacitor))
        return iter({id(f): f for f in found}.values())

    def __len__(self) -> int:
        return sum(1 for _ in self)
