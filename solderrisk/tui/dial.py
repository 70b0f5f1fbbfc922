"""One line of the what-if: something that can be switched or turned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Dial:
    """``value`` as it stands, ``was`` as the files say it."""

    id: str
    group: str
    label: str
    value: str
    was: str
    on: bool | None = None  # None where it is no switch

    @property
    def changed(self) -> bool:
        return self.value != self.was
