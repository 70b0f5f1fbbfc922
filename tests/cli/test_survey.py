"""Many kits at once: each answer is that of the program alone, whatever becomes of the others."""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import signal
from pathlib import Path

import pytest

from solderrisk.files.loading import DEMO_FOLDERS, open_inputs
from solderrisk.files.text import FileProblems
from solderrisk.model.bench import LEVELS
from solderrisk.model.question import Run
from solderrisk.session import Session
from solderrisk.survey import answer, digest, questions, survey, worker

LAMP = str(DEMO_FOLDERS["kit"] / "water-lamp.yaml")
ASKED = {"kit": "water-lamp", "bench": "bare", "builder": "newcomer"}


def line(**asked: object) -> str:
    return json.dumps({**ASKED, **asked})


def silent(share: float, what: str) -> None:
    assert 0 <= share <= 1
    assert "a second" in what


def test_an_answer_is_that_of_the_assessment() -> None:
    found = json.loads(answer(line()))
    told = Session().assess(open_inputs("water-lamp", "bare", "newcomer"))
    assert found["asked"] == ASKED
    chance = told.verdict.chance
    assert found["chance"] == [chance.low, chance.mid, chance.high]
    assert found["answer"] == told.verdict.judgement.answer
    assert found["hours"] == pytest.approx(told.risk.hours.mid)
    assert found["decided_by"][0] == told.verdict.top[0]


def test_a_level_stands_for_a_builder_and_the_target_for_the_kits_own() -> None:
    rows = [json.loads(answer(line(builder=level, target=0.5))) for level in LEVELS]
    assert all(row["target"] == 0.5 for row in rows)
    chances = [row["chance"][1] for row in rows]
    assert chances == sorted(chances)
    assert chances[0] < chances[-1]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "no question"),
        ("[1]", "write an object"),
        (line(kit="nowhere.yaml"), "nowhere.yaml"),
        (line(kit="-"), "'kit' has to be the name of a file"),
        (line(bench=3), "'bench' has to be"),
        (line(seat=1), "unknown key 'seat'"),
        (line(target=1.5), "'target' has to be"),
        (line(target=True), "'target' has to be"),
        (line(seed=-1), "'seed' has to be"),
        (line(library="x"), "'library' has to be"),
        (line(library=["/nowhere"]), "/nowhere"),
    ],
)
def test_what_cannot_be_answered_is_told_in_the_answer(text: str, told: str) -> None:
    made = answer(text)
    assert "\n" not in made
    assert told in json.loads(made)["problem"]


def test_a_worker_answers_line_by_line() -> None:
    said: list[str] = []
    worker(io.StringIO(f"{line()}\n\nnonsense\n{line(builder='few')}"), said.append)
    assert [("problem" in json.loads(one)) for one in said] == [False, True, False]
    assert said[0] == answer(line())


def shelf(folder: Path, count: int) -> list[str]:
    text = Path(LAMP).read_text("utf-8")
    paths = [folder / f"kit{n}.yaml" for n in range(count)]
    for n, path in enumerate(paths):
        path.write_text(text.replace("length_mm: 70", f"length_mm: {60 + n}"), "utf-8")
    return [str(path) for path in paths]


def test_a_table_of_everything_with_one_bad_kit(tmp_path: Path) -> None:
    bad = tmp_path / "=bad.yaml"
    bad.write_text("name: [", "utf-8")
    kits = [*shelf(tmp_path, 2), str(bad), "=1+1"]
    out = tmp_path / "all.csv"
    asked = questions(kits, ["bare"], ["few", "regular"])
    told = survey(asked, out, 1, Run(silent), as_csv=True)
    assert told == "8 answers; 4 could not be answered, see 'problem'"
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"))))
    assert [row["kit"] for row in rows] == [k for kit in [*kits[:3], "'=1+1"] for k in (kit, kit)]
    assert [bool(row["problem"]) for row in rows] == [False] * 4 + [True] * 4
    assert not out.with_name("all.csv.part").exists()
    with pytest.raises(FileProblems, match="exists already"):
        survey(asked, out, 1, Run(silent), as_csv=True)


def test_a_stopped_survey_goes_on_where_it_was(tmp_path: Path) -> None:
    kits = shelf(tmp_path, 3)
    asked = questions(kits, ["bare"], ["few"])
    whole = tmp_path / "whole.jsonl"
    survey(asked, whole, 1, Run(silent), as_csv=False)
    lines = whole.read_text("utf-8").splitlines()
    out, part = tmp_path / "out.jsonl", tmp_path / "out.jsonl.part"
    # Two answers and half of the third; the first kit has changed since.
    part.write_text(f"{lines[0]}\n{lines[1]}\n{lines[2][:40]}", "utf-8")
    old = digest(asked[0][0])
    Path(kits[0]).write_text(Path(LAMP).read_text("utf-8"), "utf-8")
    assert digest(asked[0][0]) != old
    shares: list[str] = []
    told = survey(asked, out, 1, Run(lambda share, what: shares.append(what)), as_csv=False)
    assert told == "3 answers, 1 of them from before"
    assert shares[-1].startswith("2 of 2")
    anew = out.read_text("utf-8").splitlines()
    assert anew[1:] == lines[1:]
    assert anew[0] == answer(json.dumps(asked[0][0]))


def test_a_process_that_is_killed_takes_no_answer_with_it(tmp_path: Path) -> None:
    asked = questions(shelf(tmp_path, 6), ["bare"], ["few", "regular"])
    out = tmp_path / "out.jsonl"
    killed: list[int] = []

    def kill_once(share: float, what: str) -> None:
        if not killed:
            victim = multiprocessing.active_children()[0]
            killed.append(victim.pid or 0)
            os.kill(killed[0], signal.SIGKILL)

    told = survey(asked, out, 2, Run(kill_once), as_csv=False)
    assert killed
    assert told == "12 answers"
    rows = [json.loads(one) for one in out.read_text("utf-8").splitlines()]
    assert [row["asked"] for row in rows] == [row for group in asked for row in group]
    assert rows[-1] == json.loads(answer(json.dumps(rows[-1]["asked"])))
