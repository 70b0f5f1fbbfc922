"""The command line as people expect it."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from solderrisk.arguments import COMMANDS, parser
from solderrisk.cli import run
from solderrisk.console import Shown

SMALL = ["--bench", "decent", "--builder", "hobbyist"]


@pytest.mark.parametrize("text", ["70%", "70 %", "70", "0.7", " 0.70 "])
def test_a_target_as_people_type_it(text: str) -> None:
    assert parser().parse_args(["assess", "x", "--target", text]).target == pytest.approx(0.7)


@pytest.mark.parametrize("text", ["1", "100%", "120", "-1", "nan", "inf", "x", "%"])
def test_what_is_no_chance_is_refused(text: str) -> None:
    with pytest.raises(SystemExit):
        parser().parse_args(["assess", "x", "--target", text])


@pytest.mark.parametrize("name", COMMANDS)
def test_help_says_what_it_does(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parser().parse_args([name, "-h"])
    told = " ".join(capsys.readouterr().out.split())
    told = told.split("options:")[0]
    # Its own description where a line would not do.
    assert COMMANDS[name][0] in told or "standard input" in told


def test_an_example_in_the_help_can_be_typed() -> None:
    import shlex

    from solderrisk.arguments import EXAMPLES

    for example in EXAMPLES.values():
        assert parser().parse_args(shlex.split(example)).command == example.split()[0]


def test_a_kit_comes_through_a_pipe() -> None:
    kit = (Path(__file__).parents[2] / "solderrisk/demo/kits/water-lamp.yaml").read_text()
    asked = [sys.executable, "-m", "solderrisk", "assess", "-", *SMALL, "--json"]
    done = subprocess.run(
        asked, input=kit, capture_output=True, text=True, check=False,
        env={**os.environ, "SOLDERRISK_NO_SETTINGS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["kit"] == "water-lamp"


@pytest.mark.parametrize("form", ["html", "json", "csv", "markdown", "svg"])
def test_a_statement_in_every_form(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"statement.{form}"
    asked = ["statement", "water-lamp", "--benches", "bare", f"--{form}", str(file)]
    assert run(asked) == 0
    made = file.read_text(encoding="utf-8-sig")
    if form == "json":
        assert {cell["answer"] for cell in json.loads(made)["cells"]} <= {"yes", "no", "open"}
    elif form == "csv":
        assert len(made.splitlines()) == 6
    elif form == "svg":
        assert ElementTree.fromstring(made).tag.endswith("svg")
    else:
        assert "never soldered" in made
        assert "80 % is wanted" in made
    # Never over a file, unless one says so.
    assert run(asked) == 2
    assert "exists already" in capsys.readouterr().err
    assert run([*asked, "--force"]) == 0


def test_every_answer_has_data(capsys: pytest.CaptureFixture[str]) -> None:
    for asked in (
        ["practise", "--builder", "newcomer", "--json"],
        ["assumed", "--json"],
        ["footprints", "QFN-32", "--json"],
        ["advise", "water-lamp", *SMALL, "--target", "0.5", "--json"],
    ):
        assert run(asked) == 0
        assert json.loads(capsys.readouterr().out)["format"] == 1


def test_a_bill_is_told_how_it_becomes_a_kit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bill = tmp_path / "bom.csv"
    bill.write_text("Reference,Value\nR1,10k\n")
    assert run(["assess", str(bill), *SMALL]) == 2
    assert f"solderrisk draft {bill} -o kit.yaml" in capsys.readouterr().err


def test_a_file_of_another_kind_is_told_so(capsys: pytest.CaptureFixture[str]) -> None:
    demo = Path(__file__).parents[2] / "solderrisk/demo"
    builder = str(demo / "builders/newcomer.yaml")
    assert run(["assess", "water-lamp", "--bench", builder, "--builder", "hobbyist"]) == 2
    assert "this is a builder file; give it as --builder, a bench is wanted" in (
        capsys.readouterr().err
    )
    assert run(["assess", str(demo / "benches/bare.yaml"), *SMALL]) == 2
    assert "this is a bench file" in capsys.readouterr().err


def test_undecided_has_a_status_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["assess", "water-lamp", *SMALL, "--json"]
    run(asked)
    mid = json.loads(capsys.readouterr().out)["verdict"]["chance"]["mid"]
    assert run([*asked, "--target", f"{mid:.4f}"]) == 3
    assert run([*asked, "--target", "0.01"]) == 0
    assert run([*asked, "--target", "0.9999"]) == 1


def test_completion_is_written_by_a_library(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["completion", "bash"]) == 0
    assert "--no-settings" in capsys.readouterr().out


def test_marks_have_plain_stand_ins_where_the_encoding_has_none() -> None:
    asked = [sys.executable, "-m", "solderrisk", "statement", "water-lamp", "--benches", "bare"]
    done = subprocess.run(
        asked, capture_output=True, check=False, env={**os.environ, "PYTHONIOENCODING": "ascii"}
    )
    told = done.stdout.decode("ascii")
    assert "\\u" not in told
    assert "+ enough, ~ too close to call, x not enough" in told


def test_progress_is_shown_from_the_second_on(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = io.StringIO()
    monkeypatch.setattr(sys, "stderr", screen)
    shown = Shown()
    shown(0.1, "at once")
    assert screen.getvalue() == ""
    shown._start -= 2
    shown._last -= 2
    shown(0.4, "trying\x1b[2J")
    assert "40% trying" in screen.getvalue()
    assert "\x1b[2J" not in screen.getvalue()
    shown.clear()
    assert screen.getvalue().endswith("\r\x1b[K")


def test_whose_hands_are_meant_is_told_of_answers_and_not_of_errors(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["assess", "no-such-kit.yaml"]) == 2
    assert "stranger" not in capsys.readouterr().err
    run(["assess", "water-lamp", "--json"])
    assert "a stranger's: bench decent, builder hobbyist" in capsys.readouterr().err
