"""Values are kept in a parsed form, and the text stays what counts."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from solderrisk.files import yaml_text, yaml_values
from solderrisk.files.yaml_text import Source, key_of, write_packaged
from solderrisk.folders import OFF

ROOT = Path(__file__).resolve().parents[2]
LONG = "name: k\nlist:\n" + "".join(f"- {{ref: R{n}, x_mm: {n / 7}}}\n" for n in range(300))
ALL = {"name": "k", "list": [{"ref": f"R{n}", "x_mm": n / 7} for n in range(300)]}


@pytest.fixture(autouse=True)
def settings_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(OFF)


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache" / "solderrisk" / "parsed"


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the texts that were parsed."""
    names: list[str] = []
    real = yaml_values.values_of

    def counted(name: str, text: str) -> object:
        names.append(name)
        return real(name, text)

    monkeypatch.setattr(yaml_values, "values_of", counted)
    return names


def test_a_text_is_parsed_once(cache: Path, parsed: list[str]) -> None:
    assert Source("a", LONG).value() == ALL
    assert Source("b", LONG).value() == ALL
    assert parsed == ["a"]
    assert [file.suffix for file in cache.iterdir()] == [".json"]


def test_a_changed_text_is_another(parsed: list[str]) -> None:
    Source("a", LONG).value()
    assert Source("a", LONG.replace("name: k", "name: l")).value() == {**ALL, "name": "l"}
    assert parsed == ["a", "a"]


def test_a_short_text_is_not_kept(cache: Path) -> None:
    assert Source("a", "name: k").value() == {"name": "k"}
    assert not cache.exists()


@pytest.mark.parametrize("harm", ["", "{", "[" * 100_000, "\xff"])
def test_a_harmed_form_is_made_anew(harm: str, cache: Path, parsed: list[str]) -> None:
    Source("a", LONG).value()
    (file,) = cache.iterdir()
    file.write_text(harm, encoding="latin-1")
    assert Source("b", LONG).value() == ALL
    assert Source("c", LONG).value() == ALL
    assert parsed == ["a", "b"]


def test_nothing_is_kept_where_settings_are_off(
    cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(OFF, "1")
    assert Source("a", LONG).value() == ALL
    assert not cache.exists()


def test_without_a_folder_the_values_come_all_the_same(cache: Path) -> None:
    cache.parent.parent.mkdir(parents=True)
    cache.parent.write_text("a file where the folder should be")
    assert Source("a", LONG).value() == ALL


def test_what_is_kept_stays_bounded(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_text, "MOST_KEPT", 10)
    for n in range(25):
        Source("a", f"{LONG}last: {n}\n").value()
    assert len(list(cache.iterdir())) <= 10


def test_a_fault_in_a_kept_text_is_told_at_its_place() -> None:
    Source("a", LONG).value()
    problem = Source("b", LONG).problem(("list", 2, "x_mm"), "too far")
    assert (problem.file, problem.line, problem.path) == ("b", 5, "list[2].x_mm")


def test_what_the_wheel_brings_is_what_the_sources_say(tmp_path: Path) -> None:
    sources = [*ROOT.glob("solderrisk/**/*.yaml"), *ROOT.glob("footprints/*.yaml")]
    write_packaged(sources, tmp_path)
    long = [file.read_text(encoding="utf-8") for file in sources]
    long = [text for text in long if key_of(text)]
    assert len(long) > 30
    assert len(list(tmp_path.iterdir())) == len(long)
    for text in long:
        made = json.loads((tmp_path / f"{key_of(text)}.json").read_text())
        assert made == yaml_values.values_of("anew", text)


def test_a_packaged_form_goes_before_parsing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, parsed: list[str]
) -> None:
    (tmp_path / "a.yaml").write_text(LONG)
    write_packaged([tmp_path / "a.yaml"], tmp_path)
    monkeypatch.setattr(yaml_text, "PACKAGED", tmp_path)
    parsed.clear()
    assert Source("a", LONG).value() == ALL
    assert parsed == []
