from __future__ import annotations

from dataclasses import dataclass

import pytest

from solderrisk.model.selectors import JobIndex, parted, select


@dataclass(frozen=True)
class Piece:
    key: str
    ref: str
    kind: str
    place: str = ""


JOBS = (
    Piece("lift:U1", "U1", "lift", "donor:old"),
    Piece("lift:X9", "X9", "lift", "donor:meter"),
    Piece("fit:U1", "U1", "fit", "main"),
    *(Piece(f"fit:R{n}", f"R{n}", "fit", "main") for n in range(1, 5)),
    *(Piece(f"fit:TP.{n}", f"TP.{n}", "fit", "sensor") for n in (1, 2)),
    Piece("wire:W1", "W1", "wire", "sensor"),
    Piece("task:clean", "clean", "task"),
    Piece("gate:power", "power", "gate"),
)


@pytest.mark.parametrize(
    ("selector", "keys"),
    [
        ("U1", ["fit:U1"]),
        ("X9", ["lift:X9"]),
        ("lift:U1", ["lift:U1"]),
        ("R1-R3", ["fit:R1", "fit:R2", "fit:R3"]),
        ("R3-R9", ["fit:R3", "fit:R4"]),
        ("fit:R1..R2", ["fit:R1", "fit:R2"]),
        ("R4, U1; R1", ["fit:U1", "fit:R1", "fit:R4"]),
        ("TP", ["fit:TP.1", "fit:TP.2"]),
        ("TP.2", ["fit:TP.2"]),
        ("board:sensor", ["fit:TP.1", "fit:TP.2", "wire:W1"]),
        ("donor:old", ["lift:U1"]),
        ("lifts", ["lift:U1", "lift:X9"]),
        ("wires", ["wire:W1"]),
        ("clean", ["task:clean"]),
        ("gate:power", ["gate:power"]),
        ("tasks, gates", ["task:clean", "gate:power"]),
        ("", []),
        ("R9", []),
        ("lift:R1", []),
        ("board:nowhere", []),
    ],
)
def test_selector(selector: str, keys: list[str]) -> None:
    assert list(select(selector, JOBS)) == keys


def test_all_means_what_is_soldered() -> None:
    assert set(select("all", JOBS)) == {j.key for j in JOBS if j.kind in ("lift", "fit", "wire")}


def test_unmatched_items_are_named() -> None:
    index = JobIndex.of(JOBS)
    assert index.unmatched("R1, R77, R3-R9, board:attic") == ("R77", "board:attic")


@pytest.mark.parametrize(
    ("first", "then", "ends"),
    [
        ("abc", "c", ("ab", "c")),
        ("a", "abc", ("a", "bc")),
        ("ab", "cd", ("ab", "cd")),
        ("ab", "ab", ("", "ab")),
        ("axb", "xc", ("ab", "c")),
    ],
)
def test_parted_gives_what_both_name_to_the_narrower(
    first: str, then: str, ends: tuple[str, str]
) -> None:
    early, late = parted(first, then, own="x")
    assert ("".join(early), "".join(late)) == ends
