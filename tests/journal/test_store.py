"""The journal's file: order, identity, migration, exchange."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.journal import exchange, store
from solderrisk.journal.exchange import exported, imported
from solderrisk.journal.place import JournalProblem, doubts
from solderrisk.journal.store import Entry, Journal, canonical, kept_text

BUILD = "c0ffee0123456789"


class Clock:
    """A wall clock that can jump and a monotonic one that cannot."""

    def __init__(self) -> None:
        self.wall, self.steady = 1_800_000_000.0, 5.0

    def time(self) -> float:
        return self.wall

    def monotonic(self) -> float:
        return self.steady


def _inputs() -> list[store.Kept]:
    jobs = {
        "jobs": [
            {
                "key": f"fit:R{n}", "ref": f"R{n}", "kind": "fit", "title": "", "footprint": "",
                "technique": "", "joints": 2, "feeds": "", "covers": [],
            }
            for n in range(1, 5)
        ],
        "modes": {"bridge": "bridge"},
        "builder": "ada",
    }  # fmt: skip
    three = [0.1, 0.2, 0.3]
    forecast: dict[str, object] = dict.fromkeys(
        ("working", "first_time", "faults", "hours", "loss"), three
    )
    forecast |= {"beliefs": {}, "jobs": {}}
    made = [kept_text(what, {"what": what}) for what in ("kit", "footprints", "bench", "builder")]
    return [
        *made, kept_text("rates", {}), kept_text("jobs", jobs), kept_text("forecast", forecast),
    ]  # fmt: skip


def _start(kept: list[store.Kept]) -> Entry:
    body = {
        "kit": "k", "source": "k.yaml", "stamp": [1, 2],
        "kept": {item.what: item.hash for item in kept},
    }  # fmt: skip
    return Entry(BUILD, "started", body, "ada", "ada")


def _done(key: str) -> Entry:
    return Entry(BUILD, "done", {"key": key, "technique": None}, "ada", "ada")


def _journal(path: Path) -> Journal:
    journal = Journal(path)
    kept = _inputs()
    journal.append([_start(kept)], kept)
    journal.append([_done("fit:R1"), _done("fit:R2")])
    return journal


def test_numbers_give_the_order_and_a_go_shares_its_first(tmp_path: Path) -> None:
    with _journal(tmp_path / "j.sqlite") as journal:
        assert [(e.number, e.batch, e.kind) for e in journal.events(BUILD)] == [
            (1, 1, "started"), (2, 2, "done"), (3, 2, "done"),
        ]  # fmt: skip
        assert len({e.journal for e in journal.events()}) == 1


def test_a_clock_that_runs_backwards_changes_no_order_and_no_duration(tmp_path: Path) -> None:
    clock = Clock()
    with Journal(tmp_path / "j.sqlite", clock=clock) as journal:
        journal.append([_done("fit:R1")])
        clock.wall -= 7200
        clock.steady += 60
        journal.append([_done("fit:R2")])
        first, second = journal.events()
    assert first.at > second.at
    assert first.number < second.number
    assert second.mono_s - first.mono_s == 60


def test_nothing_in_it_can_be_changed_or_deleted(tmp_path: Path) -> None:
    with _journal(tmp_path / "j.sqlite") as journal:
        for statement in ("UPDATE events SET who = 'eve'", "DELETE FROM events"):
            with pytest.raises(store.sqlite3.IntegrityError, match="append-only"):
                journal._connection.execute(statement)


def test_exported_and_imported_is_the_same_journal(tmp_path: Path) -> None:
    file = tmp_path / "out.jsonl"
    with _journal(tmp_path / "a.sqlite") as journal:
        file.write_text("\n".join(exported(journal)) + "\n", encoding="utf-8")
        with Journal(tmp_path / "b.sqlite") as other:
            assert imported(other, str(file)).new == 3
            assert imported(other, str(file)) == (0, 3, ())
            assert other.events() == journal.events()
            assert other.kept_items() == journal.kept_items()
            assert other.id != journal.id


def test_a_clash_is_shown_and_never_merged(tmp_path: Path) -> None:
    file = tmp_path / "out.jsonl"
    with _journal(tmp_path / "a.sqlite") as journal:
        lines = [json.loads(line) for line in exported(journal)]
        lines[-1]["who"] = "eve"
        lines.append({**lines[-1], "number": 9, "batch": 9, "who": "ada"})
        file.write_text("\n".join(map(canonical, lines)), encoding="utf-8")
        with pytest.raises(JournalProblem, match="1 events say something else"):
            imported(journal, str(file))
        assert len(journal.events()) == 3
        assert imported(journal, str(file), leave_clashes=True).clashes == ((journal.id, 3),)
        assert [e.who for e in journal.events()] == ["ada"] * 4


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"number": 0}, "greater than or equal to 1"),
        ({"kind": "soldered"}, "kind"),
        ({"body": {"key": "fit:R99"}}, "has no job 'fit:R99'"),
        ({"body": {"key": "fit:R1", "tecnique": "x"}}, "tecnique"),
        ({"who": "a\nb"}, "cannot be printed"),
        ({"build": "0" * 16}, "was not started in this journal"),
        ({"kind": "gate", "body": {"key": "fit:R1", "passed": True, "reading": "five"}}, "reading"),
        ({"kind": "undo", "body": {"targets": [77]}}, "before it"),
    ],
)
def test_a_bad_line_is_told_with_its_place_and_nothing_is_written(
    tmp_path: Path, change: dict[str, object], told: str
) -> None:
    file = tmp_path / "out.jsonl"
    with _journal(tmp_path / "a.sqlite") as journal:
        lines = [json.loads(line) for line in exported(journal)]
    lines[-1] |= change
    file.write_text("\n".join(map(canonical, lines)), encoding="utf-8")
    with Journal(tmp_path / "b.sqlite") as other:
        with pytest.raises(JournalProblem, match=r"out\.jsonl") as refused:
            imported(other, str(file))
        assert told in str(refused.value)
        assert "\n" not in str(refused.value)
        assert other.events() == []
        assert other.kept_items() == []


@pytest.mark.parametrize(
    "text",
    [
        "no json",
        "[1]",
        '{"a": NaN}',
        '{"a": 1, "a": 2}',
        "[" * 3000,
        '{"hash":"0","what":"kit","text":"{}"}',
        "\x00",
    ],
)
def test_what_is_no_journal_is_refused(tmp_path: Path, text: str) -> None:
    file = tmp_path / "in.jsonl"
    file.write_text(text, encoding="utf-8")
    with Journal(tmp_path / "b.sqlite") as journal:
        with pytest.raises(JournalProblem, match=r"in\.jsonl:1"):
            imported(journal, str(file))
        assert journal.events() == []


def test_too_many_events_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(exchange, "MAX_EVENTS", 2)
    file = tmp_path / "out.jsonl"
    with _journal(tmp_path / "a.sqlite") as journal:
        file.write_text("\n".join(exported(journal)), encoding="utf-8")
        with pytest.raises(JournalProblem, match="more than 2 events; split the file"):
            imported(journal, str(file))


def test_a_journal_of_the_future_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite"
    with _journal(path) as journal:
        journal._connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalProblem, match=r"newer version .schema 99.*update the program"):
        Journal(path)


def test_a_migration_makes_a_backup_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "j.sqlite"
    _journal(path).close()
    monkeypatch.setattr(store, "SCHEMA", 2)
    monkeypatch.setattr(store, "MIGRATIONS", {1: "ALTER TABLE kept ADD COLUMN tag TEXT; BROKEN"})
    with pytest.raises(JournalProblem):
        Journal(path)
    monkeypatch.setattr(store, "MIGRATIONS", {1: "ALTER TABLE kept ADD COLUMN tag TEXT;"})
    with Journal(path) as journal:
        assert "before that" in journal.warnings[0]
        assert len(journal.events()) == 3
        assert journal._one("SELECT COUNT(tag) FROM kept") == 0
    monkeypatch.setattr(store, "SCHEMA", 1)
    with Journal(f"{path}.schema-1.backup") as backup:
        assert len(backup.events()) == 3


def test_another_database_is_no_journal(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with store.sqlite3.connect(path) as other:
        other.execute("CREATE TABLE t (x)")
    other.close()
    with pytest.raises(JournalProblem, match="no journal of this program"):
        Journal(path)
    with pytest.raises(JournalProblem, match="is a folder"):
        Journal(tmp_path)


def test_places_where_a_journal_had_better_not_lie(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert doubts(str(tmp_path / "journal.sqlite")) is None
    assert "synced folder" in (doubts(str(tmp_path / "MyCloud" / "journal.sqlite")) or "")
    monkeypatch.setattr("solderrisk.journal.place._file_system", lambda folder: "nfs4")
    assert "network (nfs4)" in (doubts(str(tmp_path / "journal.sqlite")) or "")


@pytest.mark.parametrize(
    ("what", "value", "told"),
    [
        ("jobs", {"jobs": []}, "kept jobs: modes: Field required"),
        ("jobs", {"jobs": [{"key": "x"}], "modes": {}, "builder": "a"}, "kept jobs: jobs.0.key"),
        ("forecast", {"jobs": {}}, "kept forecast: working"),
        ("rates", {"bridge_rate": "high"}, "kept rates: bridge_rate"),
    ],
)
def test_kept_texts_with_the_right_hash_and_the_wrong_shape_are_refused(
    tmp_path: Path, what: str, value: object, told: str
) -> None:
    file = tmp_path / "in.jsonl"
    file.write_text(canonical(kept_text(what, value)._asdict()), encoding="utf-8")
    with Journal(tmp_path / "b.sqlite") as journal:
        with pytest.raises(JournalProblem, match=told):
            imported(journal, str(file))
        assert journal.kept_items() == []


EDITS = st.lists(
    st.tuples(st.floats(0, 0.999), st.integers(0, 3), st.binary(max_size=3)), min_size=1, max_size=4
)


@settings(max_examples=30, deadline=None)
@given(EDITS)
def test_no_damage_to_an_export_gets_in_or_out_but_in_one_line(
    tmp_path_factory: pytest.TempPathFactory, edits: list[tuple[float, int, bytes]]
) -> None:
    folder = tmp_path_factory.mktemp("fuzz")
    with _journal(folder / "a.sqlite") as journal:
        raw = bytearray("\n".join(exported(journal)).encode())
        before = journal.events()
        for place, cut, put in edits:
            at = int(place * len(raw))
            raw[at : at + cut] = put
        (folder / "in.jsonl").write_bytes(raw)
        try:
            imported(journal, str(folder / "in.jsonl"))
        except JournalProblem as problem:
            assert "\n" not in str(problem)  # noqa: PT017
            assert journal.events() == before
