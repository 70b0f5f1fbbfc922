"""What any reader gives: values alone, joined by reference in ``draft``."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.kit import Board, Side
from solderrisk.packages.pads import Drawing

MAX_PADS = 100_000
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class ListLine:
    """One row of a parts list. ``refs`` is empty for a row that names nothing to place."""

    place: str
    refs: tuple[str, ...]
    quantity: int | None
    value: str = ""
    package: str = ""
    device: str = ""
    description: str = ""
    number: str = ""
    ignored: str = ""
    numeric_package: bool = False
    side: str = ""
    unnamed: bool = False

    @property
    def count_open(self) -> bool:
        """The quantity contradicts the references."""
        return self.quantity is not None and self.quantity != len(self.refs) and not self.unnamed


@dataclass(frozen=True)
class Placed:
    """One row of a placement list; mm, y pointing up."""

    ref: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: Side
    place: str
    package: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class SeenPad:
    """One pad of one part in board coordinates, mm, y up."""

    ref: str
    pin: str
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    hole_mm: float = 0.0
    top: bool = True
    net: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class SeenHole:
    """One drilled hole; ``plated`` None where the file does not say."""

    x_mm: float
    y_mm: float
    d_mm: float
    plated: bool | None = None


@dataclass(frozen=True)
class Zone:
    """A copper pour; ``connect`` as for pads, 1 spokes where nothing is said."""

    net: str
    layers: frozenset[str]
    outline: Points
    connect: int
    spoke_w: float
    spoke_gap: float
    filled: tuple[tuple[str, float], ...] = ()  # layer and mm² of copper, where it is filled


@dataclass(frozen=True)
class Via:
    net: str
    x: float
    y: float


@dataclass(frozen=True)
class DrawnBoard:
    """A board file. Positions in ``drawings`` are the file's own; ``left`` and ``bottom``
    turn them into positions on the board with y pointing up."""

    board: Board
    drawings: tuple[Drawing, ...]
    zones: tuple[Zone, ...]
    vias: tuple[Via, ...]
    left: float
    bottom: float


@dataclass(frozen=True)
class Reading:
    """One source. A format fills what it knows; ``listed`` tells a parts list from a file
    that only shows parts."""

    notes: tuple[str, ...] = ()
    listed: bool = False
    lines: tuple[ListLine, ...] = ()
    placed: tuple[Placed, ...] = ()
    board: DrawnBoard | None = None
    footprint: Drawing | None = None
    pads: tuple[SeenPad, ...] = ()
    holes: tuple[SeenHole, ...] = ()
