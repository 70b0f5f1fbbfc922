"""The open footprint library (Debian package, 12,504 footprints): data nobody here made.

Truths are in the footprints' own names: P is the pitch, -N or rows x columns the pins.
``SOLDERRISK_CORPUS`` is the unpacked folder, as ``fetch.sh`` prints it; without it these
tests are skipped.
"""

from __future__ import annotations

import os
import re
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from solderrisk.files.loading import load_library
from solderrisk.packages.drawn import footprint_of, is_staggered_transistor
from solderrisk.packages.names import read_package
from solderrisk.packages.pads import PadGeometry, geometry
from solderrisk.readers.board import read_footprint

FOLDER = Path(os.environ.get("SOLDERRISK_CORPUS") or "/nowhere")
CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
if not FOLDER.is_dir():
    FOLDER = CACHE / "solderrisk" / "open-footprints" / "usr" / "share" / "kicad" / "footprints"

pytestmark = [
    pytest.mark.corpus,
    pytest.mark.skipif(
        not FOLDER.is_dir(),
        reason="the open footprint library is not here; run tests/corpus/fetch.sh",
    ),
]

_PITCH = re.compile(r"(?:^|_)P(\d+(?:\.\d+)?)(?:x\d+(?:\.\d+)?)?mm")
_GRID = re.compile(r"_(\d+)x(\d+)(?=[-_]|$)")
_COUNT = re.compile(r"(?:^|_)[A-Za-z]+(?:-[A-Z]{2})?-?(\d+)(?:-\d+EP)?(?=_|$)")
_LEADS = re.compile(r"(?:[A-Za-z]+_)?(?:TO-\d+|T?SOT-?23)-(\d+)(?=[_-]|$)")


@dataclass(frozen=True)
class Item:
    library: str
    name: str
    shape: PadGeometry


@dataclass(frozen=True)
class Corpus:
    items: tuple[Item, ...]
    seconds: float


@pytest.fixture(scope="module")
def corpus() -> Corpus:
    start = time.process_time()
    items = []
    for path in sorted(FOLDER.glob("*.pretty/*.kicad_mod")):
        drawing = read_footprint(path, path.read_bytes()).footprint
        staggered = is_staggered_transistor(path.stem)
        items.append(Item(path.parent.stem, path.stem, geometry(drawing.pads, one_row=staggered)))
    return Corpus(tuple(items), time.process_time() - start)


def named_pitch(item: Item) -> float | None:
    """The P of a name; varistors state the longer of two steps, single pins have none."""
    match = _PITCH.search(item.name)
    if match is None or item.library == "Varistor" or item.shape.pins < 2:
        return None
    return float(match[1])


def named_pins(item: Item) -> set[int] | None:
    """The pin counts that a name allows.

    A polarised slot has one key or two, each taking a place in both rows. The number after
    TO-nnn- or SOT-23- counts leads, to which a tab may be added; other numbers of such
    outlines (SOT-553, SOD-70) and of DirectFET cans are no pin counts.
    """
    if item.library.startswith(("Connector", "TerminalBlock")):
        match = _GRID.search(item.name)
        places = int(match[1]) * int(match[2]) if match else 0
        keyed = "Polarized" in item.name
        return ({places - 2, places - 4} if keyed else {places}) if match else None
    if item.library.startswith("Package_TO_SOT"):
        match = _LEADS.match(item.name)
        if match is None:
            return None
        leads = int(match[1])
        tab = item.library == "Package_TO_SOT_SMD" or "1EP" in item.name
        return {leads, leads + 1} if tab else {leads}
    if item.library.startswith("Package_") and item.library != "Package_DirectFET":
        match = _COUNT.search(item.name)
        return {int(match[1])} if match else None
    return None


def check(right: Counter[str], named: Counter[str], share: float) -> None:
    assert sum(right.values()) / sum(named.values()) >= share
    low = {k: right[k] / n for k, n in named.items() if n >= 50 and right[k] < 0.9 * n}
    assert not low


def test_all_of_it_is_read_in_time(corpus: Corpus) -> None:
    assert len(corpus.items) >= 12_000
    assert corpus.seconds < 60


def test_pitch_is_that_of_the_name(corpus: Corpus) -> None:
    right: Counter[str] = Counter()
    named: Counter[str] = Counter()
    for item in corpus.items:
        pitch = named_pitch(item)
        if pitch is not None:
            named[item.library] += 1
            found = item.shape.pitch
            right[item.library] += found is not None and abs(found - pitch) <= 0.02
    assert sum(named.values()) > 8000
    check(right, named, 0.99)


def test_pins_are_those_of_the_name(corpus: Corpus) -> None:
    right: Counter[str] = Counter()
    named: Counter[str] = Counter()
    for item in corpus.items:
        pins = named_pins(item)
        if pins is not None:
            named[item.library] += 1
            right[item.library] += item.shape.pins in pins
    assert sum(named.values()) > 7000
    check(right, named, 0.97)


def test_names_are_answered_and_agree_with_the_pads(corpus: Corpus) -> None:
    right: Counter[str] = Counter()
    answered: Counter[str] = Counter()
    for item in corpus.items:
        reading = read_package(item.name)
        if reading.state != "known" or reading.pins is None:
            continue
        answered[item.library] += 1
        pitch, found = reading.pitch_mm, item.shape.pitch
        varistor = item.library == "Varistor"
        same = pitch is None or found is None or varistor or item.shape.pins < 2
        right[item.library] += reading.pins == item.shape.pins and (
            same or abs(pitch - found) <= 0.02
        )
    assert sum(answered.values()) >= 0.85 * len(corpus.items)
    check(right, answered, 0.98)


def test_medians_of_common_families(corpus: Corpus) -> None:
    # Published outlines: SOIC 1.27 mm, QFP 0.5 mm, DIP 2.54 mm pitch
    for word, pitch in (("SOIC", 1.27), ("QFP", 0.5), ("DIP-", 2.54)):
        found = sorted(
            i.shape.pitch
            for i in corpus.items
            if i.name.startswith(("", "L", "T")) and word in i.name and i.shape.pitch
        )
        assert found[len(found) // 2] == pytest.approx(pitch)


def test_a_sample_of_it_becomes_footprints(corpus: Corpus) -> None:
    library = load_library()
    for path in sorted(FOLDER.glob("*.pretty/*.kicad_mod"))[::25]:
        drawn = footprint_of(read_footprint(path, path.read_bytes()).footprint, library)
        if drawn is not None:
            assert drawn.footprint.joint_count >= drawn.geometry.pins
