"""Whatever is in a file, reading it ends soon, with a model or with FileProblems."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from solderrisk.files import yaml_values
from solderrisk.files.loading import DEMO_FOLDERS
from solderrisk.files.text import MAX_PROBLEMS, FileProblems, decode_text
from solderrisk.files.yaml_source import parse_model
from solderrisk.files.yaml_text import Source
from solderrisk.files.yaml_values import PARSERS
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import kit_problems
from solderrisk.model.library import Library

DEMO = (DEMO_FOLDERS["kit"] / "river-recorder.yaml").read_bytes()
QUIET = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
TOKENS = st.sampled_from(
    ["- ", ": ", "\n", "  ", "[", "]", "{", "}", ",", "&a ", "*a", "? ", "|\n", ">\n", "'", '"',
     "#", "---\n", "!!str ", "%YAML 1.1\n", "\t", "name", "refs", "boards", "R1-R9", "0402", "1e3",
     "\\u0000", "~", "@", "`", "\ufeff", "\u2028", "é", "9" * 20]
)  # fmt: skip


@pytest.fixture(params=PARSERS, ids=lambda p: p.__name__, autouse=True)
def _each_parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_values, "PARSERS", (request.param,))


def read(data: bytes) -> None:
    start = time.process_time()
    told = []
    try:
        kit = parse_model(decode_text(data, "kit.yaml"), Kit, name="kit.yaml").value
        assert all(problem.message for problem in kit_problems(kit, Library()))
    except FileProblems as error:
        told = [str(problem) for problem in error.problems] or ["nothing told"]
    assert len(told) <= MAX_PROBLEMS
    for line in told:
        assert line.startswith("kit.yaml:")
        assert line.isprintable()
        assert len(line) < 600
    assert time.process_time() - start < 5


@QUIET
@given(st.binary(max_size=300))
@example(b"")
@example(b"\xff\xfe")
@example(b'"\\ud800"')
@example(b'"\\U00110000"')
@example(b"%YAML " + b"9" * 5000 + b".1\n--- a")
def test_bytes(data: bytes) -> None:
    read(data)


@QUIET
@given(st.lists(TOKENS, max_size=40).map("".join))
@example("name: a\n<<: &a {b: *a}")
@example("&a &b x")
@example("*a : 1")
@example("? |\n  x\n: 1")
def test_pieces_of_yaml(text: str) -> None:
    read(text.encode("utf-8"))


@settings(QUIET, max_examples=40)
@given(st.data())
def test_a_kit_with_a_piece_changed(data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(DEMO)))
    length = data.draw(st.integers(0, 40))
    piece = data.draw(st.one_of(TOKENS.map(str.encode), st.binary(max_size=6)))
    read(DEMO[:at] + piece + DEMO[at + length :])


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | TOKENS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)


@settings(QUIET, max_examples=60)
@given(st.sampled_from(sorted(Kit.model_fields)), VALUES)
def test_any_value_under_a_kits_key(key: str, value: object) -> None:
    whole = {"name": "k", "boards": [{"name": "main"}], key: value}
    read(yaml.safe_dump(whole, allow_unicode=True).encode("utf-8", "replace"))


@pytest.mark.parametrize(
    "text",
    [
        "[" * 1_900_000,
        "{" * 1_900_000,
        "- " * 900_000,
        "? " * 900_000,
        "a: {" * 400_000,
        "'" * 1_900_000,
        "!" * 1_900_000,
        "&a " * 600_000,
        "#" * 1_900_000,
        "a" * 1_900_000,
        "%" + "a" * 1_900_000,
        "| " + "\n" * 1_900_000,
        "\n".join(f"k{n}: 1" for n in range(50_000)),
        "name: k\nboards: [{name: b}]\nplacements:\n"
        + "\n".join(f"- {{refs: R{n}, footprint: f{n}, board: c{n}}}" for n in range(8_000)),
    ],
    ids=lambda text: repr(text[:8]),
)
def test_large_and_hostile(text: str, request: pytest.FixtureRequest) -> None:
    # The fallback parser is slower by ten; what is hostile to it is so in the same way.
    cut = 1 if "CSafeLoader" in request.node.name else 20
    read(text[: len(text) // cut].encode())


def test_a_kit_whose_rules_name_everything_many_times() -> None:
    gates = "\n".join(f"- {{ref: g{n}, title: t, after: [all, gates]}}" for n in range(1500))
    text = "name: k\nboards: [{name: b}]\nplacements: [{refs: R1-R5000, footprint: f, board: b}]"
    read(f"{text}\ngates:\n{gates}".encode())


def test_demo_files_are_read_alike_by_every_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    files = [path for folder in DEMO_FOLDERS.values() for path in sorted(folder.glob("*.yaml"))]
    assert files
    for path in files:
        values = []
        for parser in PARSERS:
            monkeypatch.setattr(yaml_values, "PARSERS", (parser,))
            source = Source(path.name, Path(path).read_text(encoding="utf-8"))
            values.append((source.value(), source.marks.table))
        assert all(value == values[0] for value in values)
