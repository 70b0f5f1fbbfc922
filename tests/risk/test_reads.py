"""What is kept by what was read: never an answer that a new engine would not give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.plan_data import with_tools
from solderrisk.risk import tables
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.reads import KeptByReads


@dataclass(frozen=True)
class Pantry:
    flour_g: int = 0
    eggs: int = 0
    salt: str = "none"

    def has(self, what: str) -> bool:
        return bool(getattr(self, what))


class Baker:
    """Counts what it makes, and looks at salt only where there are eggs."""

    def __init__(self) -> None:
        self.made: list[str] = []

    def cake(self, pantry: Pantry) -> str:
        self.made.append("cake")
        return f"{pantry.flour_g} g, {pantry.salt}" if pantry.has("eggs") else "none"


def test_only_what_was_read_makes_a_new_answer() -> None:
    kept, baker = KeptByReads[str](), Baker()
    told = [
        kept.get(baker.cake, Pantry(*each))
        for each in ((100, 0, "sea"), (200, 0, "rock"), (200, 3, "rock"), (200, 5, "rock"))
    ]
    assert told == ["none", "none", "200 g, rock", "200 g, rock"]
    assert len(baker.made) == 2
    assert kept.get(baker.cake, Pantry(200, 5, "sea")) == "200 g, sea"


def test_an_answer_within_an_answer_passes_its_reads_on() -> None:
    inner, outer, baker = KeptByReads[str](), KeptByReads[str](), Baker()

    def meal(pantry: Pantry) -> str:
        return f"cake of {inner.get(baker.cake, pantry)}"

    salted = Pantry(100, 1, "sea")
    assert inner.get(baker.cake, salted) == "100 g, sea"
    assert outer.get(meal, salted) == "cake of 100 g, sea"
    assert outer.get(meal, Pantry(100, 1, "rock")) == "cake of 100 g, rock"
    assert outer.get(meal, salted) == "cake of 100 g, sea"


def test_subjects_are_told_apart() -> None:
    kept = KeptByReads[int]()

    def less(one: Pantry, other: Pantry) -> int:
        return one.eggs - other.eggs

    assert kept.get(less, Pantry(eggs=3), Pantry(eggs=1)) == 2
    assert kept.get(less, Pantry(eggs=1), Pantry(eggs=3)) == -2


def test_an_answer_made_in_another_order_is_found_by_its_reads() -> None:
    kept = KeptByReads[str]()

    def by_eggs_first(pantry: Pantry) -> str:
        return f"{pantry.eggs} {pantry.flour_g}"

    def by_flour_first(pantry: Pantry) -> str:
        flour_g = pantry.flour_g
        return f"{pantry.eggs} {flour_g}"

    assert kept.get(by_eggs_first, Pantry(1, 1)) == "1 1"
    assert kept.get(by_flour_first, Pantry(2, 1)) == "1 2"
    assert kept.get(by_flour_first, Pantry(2, 2)) == "2 2"
    assert [kept.find(Pantry(flour, eggs)) for flour, eggs in ((2, 1), (1, 1), (1, 2))] == [
        "1 2", "1 1", None,
    ]  # fmt: skip


def test_a_subject_taken_as_a_whole_is_refused() -> None:
    with pytest.raises(TypeError):
        KeptByReads[int]().get(hash, Pantry())


@pytest.mark.parametrize("most_bytes", [300_000_000, 3_000_000])
def test_what_is_kept_changes_no_answer(most_bytes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tools bought one after the other, practice between: an engine that saw all of it and one
    that sees the last bench first, to the last bit; also where there is room for little."""
    monkeypatch.setattr(tables, "MAX_BYTES", most_bytes)
    question = open_inputs("rain-counter", "bare", "newcomer").but(samples=200)
    used, bought = RiskEngine(question.reference, 10), question.reference.plan.tools[::-1]
    first = used.tables
    for count in range(0, len(bought) + 1, 2):
        asked = question.but(
            bench=with_tools(question.bench, bought[:count]),
            practice=(("iron_surface", 40.0 * (count % 3)),),
        )
        chances = used.chances(asked)
        if count % 14:
            continue
        found = used.assess(asked)
        anew = RiskEngine(question.reference, 10)
        assert np.array_equal(chances.samples, anew.chances(asked).samples)
        told = anew.assess(asked)
        assert found.jobs == told.jobs
        assert np.array_equal(found.working_samples, told.working_samples)
        assert np.array_equal(found.ruined_samples, told.ruined_samples)
    assert (used.tables is first) == (most_bytes > 10_000_000)
