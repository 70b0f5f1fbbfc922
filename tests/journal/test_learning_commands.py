"""The commands that learn, as typed: practise, seen, share, pool, class, --rates."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
import yaml

from solderrisk.cli import run
from solderrisk.files.reference import with_rates
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.sharing import Shared, Summary, mark_of, read_summaries, share_text
from tests.journal.bench import REFERENCE
from tests.journal.test_commands import Shell

EXERCISE = REFERENCE.plan.practice.exercises[0].id


@pytest.fixture
def shell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Shell:
    return Shell(tmp_path, capsys)


def test_a_practice_run_says_what_is_still_needed(shell: Shell) -> None:
    first = shell("practise", "--did", EXERCISE, "--joints", "12", "--fault", "cold=1")
    assert "clean joints still needed" in first
    assert "faults per ordinary joint believed now" in first
    again = shell("practise", "--did", EXERCISE, "--joints", "900", "--kits", str(shell.kit))
    assert "passed" in again
    assert "bench-kit: works" in again
    assert "taken back: practice" in shell("practise", "--undo")
    assert "in 12 joints" in shell("practise")
    assert "restored" in shell("practise", "--redo")


def test_a_day_before_what_the_journal_knows_is_refused(shell: Shell) -> None:
    shell("practise", "--did", EXERCISE, "--joints", "12")
    asked = ("assess", str(shell.kit), "--as-of")
    told = shell(*asked, "2001-01-01", status=2)
    assert f"{shell.journal}: a record of 20" in told
    assert "is after --as-of 2001-01-01" in told


def test_a_note_is_read_once(shell: Shell) -> None:
    assert "read" in shell("practise", "--read", "fumes")
    assert "was read before" in shell("practise", "--read", "fumes")
    assert "no such note; there are: fumes" in shell("practise", "--read", "dragons", status=2)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--did", EXERCISE), "say how many joints"),
        (("--did", "nothing", "--joints", "9"), "no exercise"),
        (("--did", EXERCISE, "--joints", "9", "--fault", "cold=x"), "write MODE or MODE=NUMBER"),
        (("--did", EXERCISE, "--joints", "9", "--fault", "cold=10"), "count again"),
    ],
)
def test_bad_practice_is_one_line(shell: Shell, words: tuple[str, ...], told: str) -> None:
    assert told in shell("practise", *words, status=2)


def test_what_was_seen_is_told_in_plain_sentences(shell: Shell) -> None:
    shell.record("done", "R1-R12,U2,U3")
    shell.record("fault", "U2", "bridge", "--count", "9")
    assert "nothing to learn from yet" in shell("seen", status=2)
    shell.record("looked", "R1-R12,U2,U3")
    told = shell("seen")
    assert "9 seen" in told
    assert "times what was expected" in told
    assert "14 jobs looked over; Brier score" in told
    found = json.loads(shell("seen", "--json", "--group", "skill"))
    assert sum(group["seen"] for group in found["groups"]) == 9


def test_the_page_tells_what_was_built_and_seen(shell: Shell, tmp_path: Path) -> None:
    shell.record("done", "R1-R12,U2", "--minutes", "20")
    shell.record("fault", "U2", "bridge", "--found", "meter")
    shell.record("gate", "shorts", "passed", "--reading", "4.98")
    shell.record("note", "<b>bold</b>")
    page = tmp_path / "page.html"
    assert shell("report", str(shell.kit), "--html", str(page)) == ""
    text = page.read_text(encoding="utf-8")
    assert "What was built and seen" in text
    assert "14 of 20 done in 20 min, going on" in text
    assert "U2: bridge, found by meter, open" in text
    assert "gate shorts: passed, reading 4.98" in text
    assert "&lt;b&gt;bold" in text


def test_a_share_is_shown_and_only_written_when_agreed(shell: Shell, tmp_path: Path) -> None:
    out = tmp_path / "mine.json"
    assert "nothing to share yet" in shell("share", str(out), status=2)
    shell.record("done", "R1-R12,U2,U3")
    shell.record("fault", "U2", "bridge")
    shell.record("note", "my name is Ada and this is secret")
    shell.record("looked", "R1-R12,U2,U3")
    shown = shell("share", str(out))
    assert "not written; add --yes" in shown
    assert not out.exists()
    shell("share", str(out), "--yes")
    text = out.read_text()
    for secret in ("Ada", "secret", "bench-kit", "bobby", "hobbyist", "2026-11"):
        assert secret not in text
    summary = Summary.model_validate_json(text)
    assert all(cell.opportunities >= 50 for cell in summary.cells)
    shell("share", str(tmp_path / "later.json"), "--yes")
    later = Summary.model_validate_json((tmp_path / "later.json").read_text())
    assert (later.id, later.edition > summary.edition) == (summary.id, True)
    (kept,), notes = read_summaries([str(out), str(tmp_path / "later.json")])
    assert kept.edition == later.edition
    assert "an earlier edition of the same share is left out" in notes[0]


def _file(folder: Path, n: int, **changes: object) -> Path:
    cell = {
        "mode": "bridge", "technique": "drag", "pitch": "0.5 mm", "level": "regular",
        "tools": "bare eye", "quarter": "2026-Q1", "practice": False, "opportunities": 900,
        "faults": 9 + n % 3, "expected": 5.0,
    }  # fmt: skip
    summary = {"format": 1, "id": f"{n:016x}", "edition": 1, "withheld": 0, "cells": [cell]}
    cell.update({name: value for name, value in changes.items() if name in cell})
    summary.update({name: value for name, value in changes.items() if name in summary})
    path = folder / f"share{n}.json"
    path.write_text(json.dumps(summary), encoding="utf-8")
    return path


def test_shares_are_pooled_into_rates_that_can_be_used(shell: Shell, tmp_path: Path) -> None:
    files = [str(_file(tmp_path, n)) for n in range(8)]
    out = tmp_path / "rates.yaml"
    told = shell("pool", *files, "-o", str(out))
    assert "bridge_rate: 0.0" in told
    assert "7200 opportunities of 8 builders, pooled" in told
    data = json.loads(shell("pool", *files, "-o", str(tmp_path / "again.yaml"), "--json"))
    (bridge,) = (rate for rate in data if rate["mode"] == "bridge")
    assert f"bridge_rate: {bridge['parameter']['value']:g} " in told
    assert "open_rate: none, 0 builders, 5 are needed" in told
    reference = with_rates(REFERENCE, out)
    packaged = REFERENCE.risk.parameters["bridge_rate"]
    # Twice of what was foretold was seen although not everything is written down.
    assert reference.risk.parameters["bridge_rate"] > packaged
    shares = yaml.safe_load(out.read_text())["shares"]
    assert len(shares) == 8
    # Whoever saw most faults raises the rate: without them it is lower, and so told.
    alone = mark_of(f"{2:016x}")
    without = with_rates(REFERENCE, out, alone).risk.parameters.at("bridge_rate")
    rate = reference.risk.parameters.at("bridge_rate")
    assert without.value < rate.value
    assert "your own share left out" in without.source
    rest = tmp_path / "rest.yaml"
    shell("pool", *(file for file in files if "share2" not in file), "-o", str(rest))
    exact = with_rates(REFERENCE, rest).risk.parameters["bridge_rate"]
    assert without.value == pytest.approx(exact, rel=0.01)
    assert yaml.safe_load(out.read_text())["rates"]["bridge_rate"]["unit"] == "per gap"
    run(["assess", str(shell.kit), "--json"])
    plain = json.loads(shell.capsys.readouterr().out)
    run(["assess", str(shell.kit), "--json", "--rates", str(out)])
    pooled = json.loads(shell.capsys.readouterr().out)
    assert plain != pooled


BAD = [
    ({"faults": -1}, "greater than or equal to 0"),
    ({"faults": 901}, "901 faults in 900 joints cannot be"),
    ({"expected": -2.0}, "greater than or equal to 0"),
    ({"mode": ""}, "at least 1 character"),
    ({"format": 2}, "Input should be 1"),
    ({"quarter": "last week"}, "pattern"),
]


@pytest.mark.parametrize(("changes", "told"), BAD, ids=[told for _, told in BAD])
def test_a_bad_share_is_one_line_and_nothing_is_written(
    shell: Shell, tmp_path: Path, changes: dict[str, object], told: str
) -> None:
    path = _file(tmp_path, 1, **changes)
    message = shell("pool", str(path), "-o", str(tmp_path / "rates.yaml"), status=2)
    assert told in message
    assert "share1.json" in message
    assert not (tmp_path / "rates.yaml").exists()


def test_the_same_share_twice_and_too_few_people_are_told(shell: Shell, tmp_path: Path) -> None:
    one, copy = _file(tmp_path, 1), tmp_path / "copy.json"
    copy.write_text(one.read_text())
    out = str(tmp_path / "rates.yaml")
    assert "is the same share as" in shell("pool", str(one), str(copy), "-o", out, status=2)
    assert "no rate has enough people" in shell("pool", str(one), "-o", out, status=2)
    with pytest.raises(JournalProblem, match="cannot be used"):
        read_summaries([str(tmp_path / "none.json")])


def test_rates_of_the_wrong_name_are_refused(
    tmp_path: Path, shell: Shell, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "rates.yaml"
    path.write_text('rates:\n  hour_value: {value: 1, unit: "x", source: "assumed: y"}\n')
    assert run(["assess", str(shell.kit), "--rates", str(path)]) == 2
    assert "no rate that can be pooled" in capsys.readouterr().err


def test_small_cells_are_merged_with_their_zeros() -> None:
    cell = Shared(
        mode="open", technique="any", pitch="any", level="few", tools="any", quarter="any",
        practice=False, opportunities=60, faults=0, expected=0.5,
    )  # fmt: skip
    text = share_text(Summary(format=1, id="0" * 16, edition=1, cells=(cell,)))
    assert '"faults":0' in text


def test_a_class_says_who_may_start_what(shell: Shell, tmp_path: Path) -> None:
    people = []
    for name, level in (("ada", "regular"), ("ben", "never")):
        path = tmp_path / f"{name}.yaml"
        path.write_text(f"name: {name}\nlevel: {level}\n")
        people.append(f"{path},decent")
    out = tmp_path / "class.csv"
    told = shell("class", str(shell.kit), "water-lamp", "--people", *people, "--csv", str(out))
    assert told.index("ada") < told.index("ben")
    assert "Bought once for all" in told
    rows = list(csv.DictReader(out.open(newline="")))
    assert [(row["person"], row["kit"]) for row in rows][:2] == [
        ("ada", "bench-kit"), ("ada", "water-lamp"),
    ]  # fmt: skip
    twice = shell("class", str(shell.kit), "--people", people[0], people[0], status=2)
    assert "two builders are called 'ada'" in twice
    assert "two kits are called" in shell(
        "class", "water-lamp", "water-lamp", "--people", people[0], status=2
    )


def test_a_class_is_judged_as_the_verdict_is(shell: Shell, tmp_path: Path) -> None:
    """Each of a class gets the answer that ``assess`` gives to them alone."""
    people = []
    for name, level in (("ada", "regular"), ("ben", "never")):
        path = tmp_path / f"{name}.yaml"
        path.write_text(f"name: {name}\nlevel: {level}\n")
        people.append(path)
    asked = [f"{path},{bench}" for path, bench in zip(people, ("decent", "bare"), strict=True)]
    plan = json.loads(shell("class", "river-recorder", "water-lamp", "--people", *asked, "--json"))
    told = {(p["person"], p["kit"]): p["judgement"] for p in plan["places"]}
    statuses = {}
    for path, bench in zip(people, ("decent", "bare"), strict=True):
        for kit in ("river-recorder", "water-lamp"):
            statuses[path.stem, kit] = run(
                ["assess", kit, "--builder", str(path), "--bench", bench, "--json"]
            )
    answers = {"yes": 0, "no": 1, "open": 3}
    assert {pair: answers[found["answer"]] for pair, found in told.items()} == statuses
    assert len(set(statuses.values())) > 1
    assert not told["ben", "river-recorder"]["possible"]
    nearer = {tuple(pair) for bought in plan["purchases"] for pair in bought["nearer"]}
    assert nearer.isdisjoint(pair for pair, found in told.items() if found["answer"] == "yes")
