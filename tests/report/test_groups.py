"""Cards and tick rows: everything once, nothing lost."""

from __future__ import annotations

from collections import Counter

from solderrisk.plan.results import Assessment
from solderrisk.report.findings import note_lines
from solderrisk.report.groups import (
    part_cards,
    safety_notes,
    technique_cards,
)
from solderrisk.report.order import checks, inspect, tick_rows


def test_every_soldered_job_is_on_one_card(hard: Assessment) -> None:
    keys = Counter(key for part in part_cards(hard) for key in part.keys)
    assert keys == Counter(risk.job.key for risk in hard.risk.jobs)
    assert len(part_cards(hard)) < len(keys) / 2


def test_alike_jobs_are_told_alike(hard: Assessment) -> None:
    for part in part_cards(hard):
        for key in part.keys[1:]:
            assert hard.cards[key].steps == part.card.steps
            assert hard.cards[key].settings == part.card.settings
            assert hard.cards[key].cautions == part.card.cautions


def test_cards_come_in_the_order_of_the_work(hard: Assessment) -> None:
    place = {key: n for n, key in enumerate(hard.order.keys)}
    firsts = [min(place[key] for key in part.keys) for part in part_cards(hard)]
    assert firsts == sorted(firsts)


def test_what_is_shared_and_what_is_own_make_the_whole(hard: Assessment) -> None:
    groups = technique_cards(hard)
    assert len(groups) < len(part_cards(hard))
    for group in groups:
        for part in group.parts:
            whole = hard.cards[part.keys[0]]
            assert set(group.look_for) | set(part.card.look_for) == set(whole.look_for)
            assert set(group.cautions) | set(part.card.cautions) == set(whole.cautions)
            assert set(group.safety) | set(part.card.safety) == set(whole.safety)
            assert not set(group.cautions) & set(part.card.cautions)


def test_blocked_work_is_kept_apart_and_last(lacking: Assessment) -> None:
    groups = technique_cards(lacking)
    blocked = [all(part.risk.blocked for part in group.parts) for group in groups]
    assert blocked == [False] * (len(groups) - 1) + [True]
    assert "Not possible" in groups[-1].title


def test_every_job_is_ticked_off_once(hard: Assessment) -> None:
    jobs = {job.key: job for job in hard.jobs}
    ticked = Counter(
        key for stage in hard.order.stages for row in tick_rows(stage, jobs) for key in row.keys
    )
    gates = Counter(stage.gate for stage in hard.order.stages if stage.gate)
    assert ticked + gates == Counter(hard.order.keys) == Counter(job.key for job in hard.jobs)


def test_tick_rows_say_what_to_mind(hard: Assessment) -> None:
    jobs = {job.key: job for job in hard.jobs}
    rows = {
        key: row
        for stage in hard.order.stages
        for row in tick_rows(stage, jobs)
        for key in row.keys
    }
    assert "cannot be bought again" in rows["fit:U1"].notes
    assert any("orientation" in note for note in rows["fit:U1"].notes)
    assert rows["fit:R1"].keys == tuple(f"fit:R{n}" for n in range(1, 37))


def test_checks_name_the_faults_in_one_line(hard: Assessment) -> None:
    for stage in hard.order.stages:
        lines = checks(stage)
        assert sum(line.startswith("look for: ") for line in lines) <= 1
        for line in inspect(stage):
            assert line.removeprefix("look for: ") in " ".join(lines)


def test_what_all_safety_notes_say_is_said_once(hard: Assessment) -> None:
    shared, own = safety_notes(hard)
    assert shared
    for note, whole in zip(own, hard.safety, strict=True):
        assert set(note.text) | set(shared) == set(note_lines(whole))
        assert note.text
