"""A small invented kit, assessed once, for the tests of recording."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from solderrisk.files.loading import load_bench, load_builder, load_library
from solderrisk.files.reference import load_reference
from solderrisk.journal.forecast import Told, start
from solderrisk.journal.recording import Recorder
from solderrisk.journal.store import Journal
from solderrisk.model.kit import Kit
from solderrisk.model.question import Question
from solderrisk.plan.results import Assessment
from solderrisk.session import Session

KIT = {
    "name": "bench-kit",
    "invented": True,
    "boards": [{"name": "main", "price": 10.0}],
    "donors": [{"name": "old", "board": {"name": "old-board"}}],
    "placements": [
        {"refs": "R1-R12", "footprint": "R-0805", "board": "main", "price_each": 0.1},
        {"refs": "U1", "footprint": "SOIC-8", "board": "main", "donor": "old",
         "irreplaceable": True},
        {"refs": "U2", "footprint": "TSSOP-16", "board": "main", "price_each": 4.0},
        {"refs": "U3", "footprint": "SOIC-8", "board": "main", "price_each": 3.0},
    ],
    "wires": [{"ref": "W1", "board": "main", "connections": 2}],
    "gates": [
        {"ref": "shorts", "title": "no short", "kind": "shorts", "after": ["R1-R12"],
         "before": ["U2"]},
        {"ref": "rail", "title": "5 V", "kind": "rail", "after": ["fits"], "before": ["W1"]},
        {"ref": "runs", "title": "it runs", "kind": "function", "after": ["all"]},
    ],
}  # fmt: skip
REFERENCE = load_reference()


def question(builder: str = "hobbyist") -> Question:
    kit = Kit.model_validate(KIT)
    return Question(kit, load_bench("decent"), load_builder(builder), load_library([]), REFERENCE)


@cache
def assessed(builder: str = "hobbyist") -> Assessment:
    return Session().assess(question(builder))


@cache
def told() -> Told:
    asked = question()
    return Told(assessed(), REFERENCE, Session().beliefs(asked))


def begun(path: Path, who: str = "ada") -> Recorder:
    return start(Journal(path), told(), source="bench-kit.yaml", who=who)
