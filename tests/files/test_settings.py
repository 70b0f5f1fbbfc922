"""One's own bench and builder: asked once, never over what a person wrote, off when told."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import pytest

from solderrisk.cli import whose
from solderrisk.files import settings
from solderrisk.files.loading import load_bench, load_builder
from solderrisk.files.reference import load_reference
from solderrisk.files_cli import SOLDERS, as_yaml, ask_bench, ask_builder, setup

REFERENCE = load_reference()
NOTHING = argparse.Namespace(bench=None, builder=None, no_settings=False)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Settings turned on, in a folder of the test's own."""
    monkeypatch.delenv(settings.OFF)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return settings.folder()


def answering(*answers: str) -> Callable[[str], str]:
    rest = iter(answers)
    return lambda question: next(rest)


def made() -> tuple[str, str]:
    skills = len(REFERENCE.risk.levels.skills)
    builder = ask_builder(
        answering("", "2", *["x", "9", "1"], *["0"] * (skills - 2), "n", "y", "12", "chf"),
        REFERENCE,
    )
    assert builder.guided
    assert builder.currency == "CHF"
    bench = ask_bench(answering("99", "1 3-4", "3", "1"), REFERENCE)
    assert builder.level == "several"
    assert [skill.level for skill in builder.skills[:3]] == ["several", "few", "never"]
    assert bench.irons
    return as_yaml(builder), as_yaml(bench)


def test_a_minute_of_questions_makes_files_that_are_used(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert whose(NOTHING) == ("decent", "hobbyist")
    assert "a stranger's" in capsys.readouterr().err
    builder, bench = made()
    assert load_builder(settings.keep("builder", builder)).name == "mine"
    assert load_bench(settings.keep("bench", bench)).name == "mine"
    assert whose(NOTHING) == (str(own / "bench.yaml"), str(own / "builder.yaml"))
    assert capsys.readouterr().err == ""
    # What is named goes before; the option and the variable turn all of it off.
    given = argparse.Namespace(bench="bare", builder=None, no_settings=False)
    assert whose(given) == ("bare", str(own / "builder.yaml"))
    assert whose(argparse.Namespace(bench=None, builder=None, no_settings=True))[0] == "decent"


def test_every_solder_that_is_offered_is_known(own: Path) -> None:
    for number in SOLDERS:
        bench = ask_bench(answering("", number), REFERENCE)
        path = settings.keep("bench", as_yaml(bench))
        assert load_bench(path).solders == bench.solders


def test_the_variable_turns_settings_off(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.keep("bench", made()[1])
    settings.remember({"kit": "x"})
    assert settings.remembered() == {"kit": "x"}
    monkeypatch.setenv(settings.OFF, "1")
    assert settings.Own.found() == settings.Own()
    assert settings.remembered() == {}
    settings.remember({"kit": "y"})
    monkeypatch.delenv(settings.OFF)
    assert settings.remembered() == {"kit": "x"}


def test_a_file_that_a_person_changed_stays(own: Path) -> None:
    bench = made()[1]
    first = settings.keep("bench", bench)
    assert settings.keep("bench", bench + "# again\n") == first  # untouched: made anew
    first.write_text(first.read_text() + "aids: [tweezers]\n")
    kept = first.read_text()
    beside = settings.keep("bench", bench)
    assert beside.name == "bench-2.yaml"
    assert first.read_text() == kept


def test_a_damaged_file_is_told_and_passed_over(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own.mkdir(parents=True)
    (own / "bench.yaml").write_text("irons: 3\n")
    (own / "last.json").write_text('{"format": 99, "kit": "x"}')
    assert whose(NOTHING)[0] == "decent"
    told = capsys.readouterr().err
    assert "your bench is passed over" in told
    assert settings.remembered() == {}
    settings.remember({"kit": "y"})  # one of a newer version stays
    assert '"format": 99' in (own / "last.json").read_text()


def test_nothing_without_a_terminal_ever_asks(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert setup(argparse.Namespace()) == 2
    assert "needs a terminal" in capsys.readouterr().err
