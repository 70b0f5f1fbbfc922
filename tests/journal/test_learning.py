"""Predicted against seen: counts with their doubt, the Brier score, what a record teaches."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from solderrisk.journal.learning import (
    Cell,
    Known,
    cells_of,
    compare,
    count_at_most,
    count_quantile,
    expected_seen,
    known_share,
    score,
    scored,
    share_range,
)
from solderrisk.journal.people import (
    experience,
    known,
    note_version,
    notes_read,
    practice_records,
    practise_run,
    read_note,
    restore,
    still_needed,
    take_back,
)
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import Recorder
from solderrisk.journal.store import Journal
from solderrisk.model.bench import Builder
from solderrisk.report.people import against_told
from tests.journal.bench import REFERENCE, assessed, begun


@pytest.fixture
def bench(tmp_path: Path) -> Recorder:
    return begun(tmp_path / "j.sqlite", who=assessed().builder.name)


def test_only_looked_over_jobs_count(bench: Recorder) -> None:
    bench.done("R1-R12,U2")
    bench.fault("U2", "bridge")
    assert cells_of(bench.journal) == []
    bench.looked("U2")
    cells = cells_of(bench.journal)
    assert {cell.key for cell in cells} == {"fit:U2"}
    assert sum(cell.seen for cell in cells) == 1
    told = {mode.mode: mode for mode in assessed().risk.by_key["fit:U2"].chosen.modes}
    bridge = next(cell for cell in cells if cell.mode == "bridge")
    assert bridge.opportunities == told["bridge"].opportunities
    assert bridge.mid == told["bridge"].each.mid


def test_a_job_done_otherwise_than_foretold_is_left_out(bench: Recorder) -> None:
    bench.done("U2", technique="drag")
    bench.looked("U2")
    assert cells_of(bench.journal) == []


def test_the_count_with_doubt_against_a_simulation() -> None:
    rng = np.random.default_rng(3)
    for mean, spread in ((4.0, 1.5), (24.0, 6.0), (60.0, 0.0)):
        shape = (mean / spread) ** 2 if spread else 0.0
        rates = rng.gamma(shape, mean / shape, 400_000) if spread else np.full(400_000, mean)
        counts = rng.poisson(rates)
        for level in (0.05, 0.5, 0.95):
            ours = count_quantile(mean, spread, level)
            assert abs(ours - np.quantile(counts, level)) <= 1
            assert count_at_most(ours, mean, spread) == pytest.approx(
                (counts <= ours).mean(), abs=0.005
            )


def _cell(mid: float, seen: int, n: int = 100, build: str = "b", key: str = "k") -> Cell:
    return Cell(
        build, key, "ada", "bridge", "drag", "iron_fine_pitch", "few", "0.5 mm", "bare eye",
        "2026-Q1", n, mid / 2, mid, mid * 2, seen,
    )  # fmt: skip


def test_what_is_not_found_or_not_written_is_not_expected() -> None:
    sure = expected_seen([_cell(0.05, 0)], Known(1, 1, 1))
    shy = expected_seen([_cell(0.05, 0)], Known(0.3, 0.5, 0.8))
    assert sure.mid == 5
    assert shy.mid == 2.5
    # Silence is weaker evidence where little would have been written down.
    assert (shy.high - shy.low) / shy.mid > (sure.high - sure.low) / sure.mid
    for mode in REFERENCE.risk.faults.modes:
        share = known_share(mode.id, REFERENCE)
        assert 0 <= share.low <= share.mid <= share.high <= 1


def test_groups_say_whether_they_tell_anything() -> None:
    few, many = compare([_cell(0.001, 0)], REFERENCE), compare([_cell(0.3, 11)], REFERENCE)
    assert not few[0].tells
    assert many[0].tells
    assert many[0].seen == 11
    assert many[0].ratio == pytest.approx(11 / many[0].expected.mid)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=1, max_size=60))
def test_the_parts_of_the_brier_score_add_up(told: list[tuple[float, bool]]) -> None:
    found = scored(told)
    parts = found.reliability - found.resolution + found.uncertainty + found.within
    assert parts == pytest.approx(found.brier, abs=1e-9)
    assert sum(band.jobs for band in found.bands) == len(told)


def test_a_forecaster_who_is_right_scores_as_reliable() -> None:
    rng = random.Random(4)
    told = [(p, rng.random() < p) for p in (rng.random() for _ in range(4000))]
    right = scored(told)
    wrong = scored([(1 - p, seen) for p, seen in told])
    assert right.reliability < 0.003
    assert wrong.reliability > 0.2
    assert right.brier == pytest.approx(1 / 6, abs=0.02)


@pytest.mark.parametrize(("seen", "jobs"), [(0, 12), (3, 12), (12, 12), (1, 1), (40, 200)])
def test_what_a_share_may_come_from(seen: int, jobs: int) -> None:
    """statsmodels' Jeffreys interval; with none or all seen one end is certain (Brown, Cai and
    DasGupta 2001)."""
    low, high = share_range([(0.5, n < seen) for n in range(jobs)])
    known = proportion_confint(seen, jobs, alpha=0.1, method="jeffreys")
    assert low == pytest.approx(known[0] if seen else 0.0)
    assert high == pytest.approx(known[1] if seen < jobs else 1.0)


def test_the_picture_shows_told_beside_seen() -> None:
    told = scored([(0.5, n < 5) for n in range(10)] + [(0.05, False)] * 40)
    wide, narrow = sorted((against_told(band) for band in told.bands), key=lambda s: -s.count("-"))
    assert (len(wide), wide[20]) == (41, "+")
    assert wide[0] == wide[-1] == "."
    assert wide == wide[::-1]
    assert narrow[0] == "o"
    assert narrow[2] == "|"


def test_nothing_to_learn_from_is_told(bench: Recorder) -> None:
    with pytest.raises(JournalProblem, match="record jobs as looked over"):
        score(cells_of(bench.journal), REFERENCE)


def test_builds_become_records_of_what_they_were_made_at(bench: Recorder) -> None:
    bench.done("R1-R12,U2")
    bench.fault("U2", "bridge", count=2)
    bench.looked("R1-R12,U2")
    records = experience(bench.journal, assessed().builder.name, REFERENCE)
    fine = next(record for record in records if record.pitch_mm == 0.65)
    chosen = assessed().risk.by_key["fit:U2"].chosen
    assert fine.technique == chosen.technique
    assert (fine.faults, [(m.mode, m.faults) for m in fine.modes]) == (2, [("bridge", 2)])
    # Not all that was made would have been found and written down: silence counts less.
    assert 0 < fine.joints < 16
    assert experience(bench.journal, "somebody else", REFERENCE) == ()


def test_practice_counts_for_the_person_and_can_be_taken_back(tmp_path: Path) -> None:
    exercise = REFERENCE.plan.practice.exercises[0]
    with Journal(tmp_path / "j.sqlite") as journal:
        practise_run(journal, REFERENCE, "ada", exercise.id, 40, {"cold": 1, "bridge": 1})
        practise_run(journal, REFERENCE, "ben", exercise.id, 10, {})
        (record,) = practice_records(journal, "ada", REFERENCE)
        assert (record.skill, record.joints, record.faults) == (exercise.skill, 40, 2)
        take_back(journal, "ada")
        assert practice_records(journal, "ada", REFERENCE) == ()
        restore(journal, "ada")
        assert len(practice_records(journal, "ada", REFERENCE)) == 1
        builder = Builder(name="ada")
        wiser = known(builder, journal, REFERENCE)
        assert known(wiser, journal, REFERENCE) == wiser
        assert still_needed(exercise, wiser, REFERENCE) != still_needed(
            exercise, builder, REFERENCE
        )


def test_clean_joints_pass_an_exercise(tmp_path: Path) -> None:
    exercise = REFERENCE.plan.practice.exercises[0]
    builder = Builder(name="ada")
    needed = still_needed(exercise, builder, REFERENCE)
    assert needed > 0
    with Journal(tmp_path / "j.sqlite") as journal:
        practise_run(journal, REFERENCE, "ada", exercise.id, needed, {})
        assert still_needed(exercise, known(builder, journal, REFERENCE), REFERENCE) == 0


@pytest.mark.parametrize(
    ("exercise", "joints", "faults", "spoiled", "told"),
    [
        ("juggling", 10, {}, 0, "no exercise 'juggling'"),
        (None, 0, {}, 0, "--joints 0"),
        (None, 10, {"bridge": 11}, 0, "11 faults in 10 joints"),
        (None, 10, {"smell": 1}, 0, "no fault 'smell'"),
        (None, 10, {}, 99, "99 parts spoiled"),
    ],
)
def test_practice_that_makes_no_sense_is_refused(
    tmp_path: Path,
    exercise: str | None,
    joints: int,
    faults: dict[str, int],
    spoiled: int,
    told: str,
) -> None:
    name = exercise or REFERENCE.plan.practice.exercises[0].id
    with Journal(tmp_path / "j.sqlite") as journal:
        with pytest.raises(JournalProblem, match=told):
            practise_run(journal, REFERENCE, "ada", name, joints, faults, spoiled)
        assert journal.events() == []


def test_a_safety_note_is_asked_for_once_per_person_and_wording(tmp_path: Path) -> None:
    note, *_ = REFERENCE.plan.safety.notes
    with Journal(tmp_path / "j.sqlite") as journal:
        assert read_note(journal, "ada", note) is not None
        assert read_note(journal, "ada", note) is None
        assert list(notes_read(journal, "ada", [note])) == [note.id]
        assert notes_read(journal, "ben", [note]) == {}
        changed = note.model_copy(update={"text": (*note.text, "And wash your hands.")})
        assert note_version(changed) != note_version(note)
        assert notes_read(journal, "ada", [changed]) == {}
        assert note.id in known(Builder(name="ada"), journal, REFERENCE).acknowledged
