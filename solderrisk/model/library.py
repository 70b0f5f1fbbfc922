"""The footprint library as a value: names and aliases to definitions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from fnmatch import translate
from functools import cached_property

from solderrisk.model.footprint import Footprint


def name_key(name: str) -> str:
    """Names compare without case, spaces and underscores."""
    return name.casefold().replace(" ", "").replace("_", "-")


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
            (name_key(footprint.name), pattern, re.compile(translate(pattern)).match)
            for footprint in self
            for pattern in footprint.board_names
        ]

    def with_front(self, footprints: Iterable[Footprint]) -> Library:
        """A library in which these definitions go first."""
        front = Library.of(footprints)
        return Library({**self.by_key, **front.by_key}) if front.by_key else self

    def close_to(self, name: str) -> tuple[str, ...]:
        """Names that look like this one, best first, at most three."""
        near = get_close_matches(name_key(name), list(self.by_key), n=6, cutoff=0.6)
        return tuple(dict.fromkeys(self.by_key[key].name for key in near))[:3]

    def __iter__(self) -> Iterator[Footprint]:
        # A chip that is found as a capacitor is no other definition.
        found = (f for f in self.by_key.values() if not (f.capacitor_names and f.ceramic_capacitor))
        return iter({id(f): f for f in found}.values())

    def __len__(self) -> int:
        return sum(1 for _ in self)
