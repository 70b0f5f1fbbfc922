"""The commands at the bench, as typed."""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path

import pytest
import yaml

from solderrisk.cli import run
from solderrisk.journal.events import checked
from solderrisk.journal.place import default_path
from tests.journal.bench import KIT


class Shell:
    """Runs commands with a journal and a kit file of their own."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.capsys = folder, capsys
        self.kit = folder / "kit.yaml"
        self.write(KIT)
        self.journal = str(folder / "journal.sqlite")

    def write(self, kit: object) -> None:
        self.kit.write_text(yaml.safe_dump(kit), encoding="utf-8")

    def __call__(self, *words: str, status: int = 0) -> str:
        assert run([*words, "--journal", self.journal]) == status
        seen = self.capsys.readouterr()
        if status:
            assert seen.out == ""
            # Whose bench and hands are taken is told before, where none are named.
            told = [line for line in seen.err.splitlines() if "a stranger's" not in line]
            assert len(told) == 1, seen.err
            return told[0]
        return seen.out

    def refused(self, *words: str) -> str:
        """The message where the command is refused, by its arguments or by what they say."""
        with contextlib.suppress(SystemExit):
            return self.record(*words, status=2)
        return self.capsys.readouterr().err

    def record(self, *words: str, status: int = 0) -> str:
        return self("record", str(self.kit), *words, status=status)


@pytest.fixture
def shell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Shell:
    return Shell(tmp_path, capsys)


def test_an_evening_of_commands(shell: Shell) -> None:
    assert "0 of 20 done; next " in shell.record("start")
    assert "done R1-R12 (events 2 to 14); 12 of 20 done" in shell.record(
        "done", "R1-R12", "--minutes", "14"
    )
    shell.record("looked", "R1-R12")
    assert "fault fit:R2 bridge (2 times, found by meter)" in shell.record(
        "fault", "R2", "bridge", "--found", "meter", "--count", "2"
    )
    assert "mended fit:R2 bridge" in shell.record("mended", "R2", "bridge", "--how", "wick")
    assert "gate:shorts passed, reading 4.98" in shell.record(
        "gate", "shorts", "passed", "--reading", "4.98"
    )
    assert "taken back: " in shell.record("undo")
    assert "taken back: " in shell.record("redo")
    shell.record("note", "the", "tip", "is", "worn", "--at", "R2")
    assert "lost: --then spare, buy or end?" in shell.record("lost", "R3")
    shell.record("lost", "R3", "--then", "spare")
    log = shell("log", str(shell.kit))
    for line in ("14 min on fit:R1-fit:R12", "note fit:R2 the tip is worn", "fit:R3: spare"):
        assert line in log
    assert "11 of 20 done, 2 faults, 14 min, goes on" in shell("log")
    lines = [json.loads(line) for line in shell("log", "--json").splitlines()]
    events = [checked(line) for line in lines if "hash" not in line]
    assert [event.number for event in events] == list(range(1, len(events) + 1))
    assert "the build works" in shell.record("end", "works")
    assert "has ended" in shell.record("done", "U2", status=2)
    assert "0 of 20 done" in shell.record("start", "--new")


BAD = [
    (("done",), "write the references"),
    (("done", "R99"), "no job 'R99'"),
    (("done", "R1", "--minutes", "soon"), "is no number"),
    (("fault", "U2"), "like U1 bridge"),
    (("fault", "U2", "brigde"), "did you mean 'bridge'"),
    (("lost", "U2", "screw"), "a part or a land"),
    (("gate", "rail", "maybe"), "passed or failed"),
    (("gate", "shorts", "failed", "--reading", "five"), "'five' is no number, like 4.98"),
    (("gate", "shorts", "failed", "--reading", "nan"), "is no number"),
    (("undo", "last"), "write the number of an event"),
    (("undo", "9999999"), "no event 9999999"),
    (("note", "\x1b[2J"), "cannot be printed"),
    (("note", "\udc80"), "cannot be printed"),
    (("done", "R1", "--by", "a\nb"), "cannot be printed"),
    (("end", "somehow"), "works or gave-up"),
    (("solder", "R1"), "invalid choice"),
]


@pytest.mark.parametrize(("words", "told"), BAD, ids=[" ".join(map(repr, w)) for w, _ in BAD])
def test_bad_words_are_one_line_and_write_nothing(
    shell: Shell, words: tuple[str, ...], told: str
) -> None:
    shell.record("start")
    before = shell("log", "--json")
    message = shell.refused(*words)
    assert told in message
    assert shell("log", "--json") == before


def test_a_journal_without_builds_or_of_another_kit_says_what_to_do(shell: Shell) -> None:
    assert "there is no journal yet" in shell("log", status=2)
    assert "no build of" in shell.record("undo", status=2)
    shell.record("start")
    other = shell("record", "water-lamp", "looked", "R1", status=2)
    assert "has builds of bench-kit; begin one with 'record water-lamp start'" in other


def test_a_kit_that_changed_is_planned_anew_and_what_is_done_stays(shell: Shell) -> None:
    shell.record("done", "R1-R4,U3")
    placements = [dict(each) for each in KIT["placements"]]  # type: ignore[attr-defined]
    placements.append({"refs": "R13", "footprint": "R-0805", "board": "main"})
    shell.write({**KIT, "placements": placements})
    assert "6 of 21 done" in shell.record("done", "R13")
    placements[3] = {**placements[3], "refs": "U9"}
    shell.write({**KIT, "placements": placements})
    told = shell.record("done", "U2", status=2)
    assert "recorded work on fit:U3 has no job" in told
    assert "--match fit:U3=KEY" in told
    assert "7 of 21 done" in shell.record("done", "U2", "--match", "fit:U3=fit:U9")
    # What was recorded as U3 stands at U9 now.
    assert "fit:U9 is done already" in shell.record("done", "U9", status=2)


def test_another_file_of_a_kit_that_is_gone_goes_on_from_what_was_kept(shell: Shell) -> None:
    shell.record("done", "R1")
    shell.kit.unlink()
    assert "2 of 20 done" in shell("record", "bench-kit", "done", "R2")


def test_export_goes_to_another_journal_and_cannot_be_recorded_there(
    shell: Shell, tmp_path: Path
) -> None:
    shell.record("done", "R1")
    (tmp_path / "out.jsonl").write_text(shell("log", "--json"), encoding="utf-8")
    shell.journal = str(tmp_path / "second.sqlite")
    assert "2 events are new, 0 were known" in shell("log", "--import", str(tmp_path / "out.jsonl"))
    assert "0 events are new, 2 were known" in shell("log", "--import", str(tmp_path / "out.jsonl"))
    assert "lies in another journal" in shell.record("done", "R2", status=2)


def test_the_schema_of_events_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["schema", "journal"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert {"Event", "Kept", "FaultSeen", "Undo"} <= set(schema["$defs"])


def test_the_own_journal_lies_in_the_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", os.sep + "somewhere")
    if os.sys.platform == "linux":  # type: ignore[attr-defined]
        assert default_path() == "/somewhere/solderrisk/journal.sqlite"


def test_what_is_recorded_is_told_as_data(shell: Shell) -> None:
    shell.record("start")
    told = json.loads(shell.record("done", "R1-R2", "--json"))
    assert [event["kind"] for event in told["events"] if event["kind"] == "done"] == ["done"] * 2
    assert (told["done"], told["of"], told["works"]) == (2, 20, None)
    assert told["next"] not in {event["body"].get("key") for event in told["events"]}
