"""How values, keys, lines and characters are counted; and what becomes of a person's share."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import pytest
from pydantic import Field

from solderrisk.files import reference, settings
from solderrisk.files.loading import demo_path, load_bench, load_person
from solderrisk.files.text import MAX_LINES, MAX_PROBLEMS, FileProblems, plotted_text, write_over
from solderrisk.files.yaml_source import parse_model, show
from solderrisk.files.yaml_text import Source
from solderrisk.files.yaml_values import MAX_KEY, MAX_NODES
from solderrisk.model.base import Frozen, Many


def told(text: str) -> FileProblems:
    with pytest.raises(FileProblems) as caught:
        Source("f.yaml", text).value()
    return caught.value


def test_an_alias_counts_as_all_that_it_stands_for() -> None:
    """A list of 998 values is 999. Written once and named 199 times it is 199,800; with the
    mapping, its three keys and two other lists 199,806, which leaves room for 194 values."""
    text = "a: &a [" + ",".join("1" * 998) + "]\nb: [" + ",".join(["*a"] * 199) + "]\nc: ["
    rest = ["1"] * (MAX_NODES - 199_806)
    assert len(Source("f", text + ",".join(rest) + "]").value()["c"]) == 194  # type: ignore[index, call-overload]
    assert f"more than {MAX_NODES} values" in str(told(text + ",".join([*rest, "1"]) + "]"))


def test_a_scalar_s_anchor_counts_once() -> None:
    assert Source("f", "a: &x 5\nb: [*x, *x]").value() == {"a": 5, "b": [5, 5]}


def test_the_longest_key_may_not_be_written_twice() -> None:
    key = "k" * MAX_KEY
    (problem,) = told(f"{key}: 1\nb: 2\n{key}: 3").problems
    assert "is written twice (first in line 1)" in problem.message
    assert (problem.line, problem.column) == (3, 1)


@pytest.mark.parametrize("twice", [MAX_PROBLEMS, MAX_PROBLEMS + 1, 40])
def test_keys_written_twice_are_told_up_to_twenty(twice: int) -> None:
    found = told("\n".join(["a: 1"] * (twice + 1))).problems
    assert [problem.line for problem in found] == list(range(2, MAX_PROBLEMS + 2))
    assert all("written twice" in problem.message for problem in found)


def test_lines_of_a_fabrication_file(tmp_path: Path) -> None:
    assert plotted_text(tmp_path, b"\n" * MAX_LINES)[0] == "\n" * MAX_LINES
    with pytest.raises(FileProblems, match=f"more than {MAX_LINES} lines"):
        plotted_text(tmp_path, b"\n" * (MAX_LINES + 1))


def test_values_are_shown_up_to_fifty_characters() -> None:
    assert show("x" * 48) == repr("x" * 48)
    assert show("x" * 49) == f"'{'x' * 45}...'"
    assert [show(v) for v in (None, True, False, 1.5, [1, 2], {})] == [
        "nothing", "true", "false", "1.5", "a list of 2", "keys with values",
    ]  # fmt: skip


class Inner(Frozen):
    colour: Literal["red", "green"] = "red"


class Outer(Frozen):
    rows: Many[Inner] = ()
    by_name: dict[str, Inner] = Field(default_factory=dict)
    one: Inner | None = None


@pytest.mark.parametrize("text", ["rows: [{color: red}]", "by_name: {x: {color: red}}",
                                  "one: {color: red}"])  # fmt: skip
def test_a_wrong_key_is_held_against_the_keys_of_its_own_place(text: str) -> None:
    with pytest.raises(FileProblems, match="did you mean 'colour'"):
        parse_model(text, Outer, name="f")


# --- shares of pooled rates

RATES = """
rates:
  {rate}: {{value: 0.08, low: 0.04, high: 0.16, unit: "1", source: assumed}}
shares:
  - {{mark: theirs, without: {{{rate}: 2.0}}}}
  - {{mark: mine, without: {{{rate}: 1.25}}}}
  - {{mark: idle}}
"""


@pytest.mark.parametrize(("own", "factor"), [("", 1), ("mine", 1.25), ("theirs", 2), ("idle", 1),
                                             ("unknown", 1)])  # fmt: skip
def test_one_s_own_share_is_left_out(tmp_path: Path, own: str, factor: float) -> None:
    """Its factor goes to the value and to both ends, and the source says so."""
    packaged = reference.read_reference(reference.DATA)
    rate = sorted(packaged.plan.journal.rates.values())[0]
    (tmp_path / "rates.yaml").write_text(RATES.format(rate=rate))
    found = reference.with_rates(packaged, tmp_path / "rates.yaml", own).risk.parameters.at(rate)
    assert (found.value, found.low, found.high) == pytest.approx(
        (0.08 * factor, 0.04 * factor, 0.16 * factor)
    )
    assert ("your own share left out" in found.source) is (factor != 1)


# --- whose files


def test_somebody_s_bench_or_the_usual_one() -> None:
    own = load_person("hobbyist, well-equipped , log.sqlite", "bare")
    assert (own[1], own[2]) == (load_bench("well-equipped"), "log.sqlite")
    usual = load_person("hobbyist", "bare")
    assert (usual[1], usual[2]) == (load_bench("bare"), None)


def test_a_file_of_another_kind_is_told_for_what_it_is() -> None:
    with pytest.raises(FileProblems, match="this is a kit file, a bench is wanted"):
        load_bench(demo_path("rain-counter", "kit"))
    with pytest.raises(FileProblems, match="this is a builder file; give it as --builder"):
        load_bench(demo_path("hobbyist", "builder"))


def test_what_was_kept_comes_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(settings.OFF, raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert settings.remembered() == {}
    settings.remember({"kit": "a", "theme": "b"})
    assert settings.remembered() == {"kit": "a", "theme": "b"}
    # The first format is read as long as it is the newest.
    (settings.folder() / "last.json").write_text('{"format": 1, "kit": "d"}')
    assert settings.remembered() == {"kit": "d"}
    # A file without a format is nobody's newer one.
    (settings.folder() / "last.json").write_text("{}")
    assert settings.remembered() == {}
    settings.remember({"kit": "c"})
    assert settings.remembered() == {"kit": "c"}


def test_one_s_own_currency(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(settings.OFF, raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert settings.own_currency() == ""
    settings.keep("builder", "name: b\ncurrency: SEK\n")
    assert settings.own_currency() == "SEK"


def test_why_a_file_cannot_be_written_in_the_system_s_words(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    with pytest.raises(FileProblems) as caught:
        write_over(tmp_path / "there", "x")
    told = str(caught.value)
    assert told.endswith("); check the path")
    assert "Errno" not in told
    assert str(tmp_path) not in told.partition(": ")[2]
    assert "(None)" not in told
