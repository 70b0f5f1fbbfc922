"""Reading YAML: values, places, messages."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field

from solderrisk.files import yaml_values
from solderrisk.files.text import MAX_PROBLEMS, FileProblems
from solderrisk.files.yaml_source import parse_model, read_model, read_model_with_marks
from solderrisk.files.yaml_text import Source
from solderrisk.files.yaml_values import PARSERS, Mark
from solderrisk.model.base import Frozen, Many, PositiveMm, Text


@pytest.fixture(params=PARSERS, ids=lambda p: p.__name__, autouse=True)
def _each_parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_values, "PARSERS", (request.param,))


class Cat(Frozen):
    kind: Literal["cat"]
    lives: int = 9


class Dog(Frozen):
    kind: Literal["dog"]
    tricks: int = 0


class Part(Frozen):
    name: Text
    pitch_mm: PositiveMm | None = None
    count: int = Field(1, ge=1, le=99)
    share: Annotated[float, Field(ge=0, le=1)] = 0.5
    polarised: bool = False
    level: Literal["1", "2", "2a", "3"] = "1"


class Box(Frozen):
    title: str = ""
    parts: Many[Part] = Field(min_length=1)
    table: dict[Text, Part] = Field(default_factory=dict)
    pets: Many[Annotated[Cat | Dog, Field(discriminator="kind")]] = ()


def lines(text: str) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        parse_model(text, Box, name="box.yaml")
    told = str(caught.value).split("\n")
    assert told == [str(problem) for problem in caught.value.problems]
    return told


# YAML 1.2.2, 10.3 (core schema), less octal, hexadecimal, infinities and leading zeros.
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0402", "0402"),
        ("01005", "01005"),
        ("0805", "0805"),
        ("1206", 1206),
        ("12:30", "12:30"),
        ("no", "no"),
        ("yes", "yes"),
        ("on", "on"),
        ("Off", "Off"),
        ("true", True),
        ("False", False),
        ("null", None),
        ("~", None),
        ("1_000", "1_000"),
        ("1e3", 1000.0),
        ("-2.5E-3", -0.0025),
        (".5", 0.5),
        ("5.", 5.0),
        ("+7", 7),
        ("-0", 0),
        ("0", 0),
        ("0.0", 0.0),
        ("007.5", "007.5"),
        ("0x1F", "0x1F"),
        ("0o17", "0o17"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("2024-13-45", "2024-13-45"),
        ("2024-01-02", "2024-01-02"),
        ("123456789012345", 123456789012345),
        ("1234567890123456", "1234567890123456"),
        ("9" * 5000, "9" * 5000),
        ("1e", "1e"),
        (".", "."),
        ("-", ["x"]),
        ("+", "+"),
        ("4.7k", "4.7k"),
        ("=", "="),
        ("<<", "<<"),
        ("'12'", "12"),
        ('"true"', "true"),
        ("'~'", "~"),
        ("Ω µ é", "Ω µ é"),
    ],
)
def test_plain_scalars(text: str, value: object) -> None:
    found = Source("t", f"- {text}" if text != "-" else "- - x").value()
    assert found == [value]
    assert type(found[0]) is type(value)  # type: ignore[index]


def test_keys_are_always_text() -> None:
    text = "{0402: a, 1206: b, true: c, null: d, 1.50: e, '': f}"
    assert list(Source("t", text).value()) == ["0402", "1206", "true", "null", "1.50", ""]  # type: ignore[call-overload]


def test_aliases_stand_for_their_values() -> None:
    text = "a: &x {n: 1}\nb: *x\nc: [*x, &y 7, *y]\n"
    assert Source("t", text).value() == {"a": {"n": 1}, "b": {"n": 1}, "c": [{"n": 1}, 7, 7]}


def test_marks_point_at_keys_and_items() -> None:
    text = (
        "title: x\nparts:\n  - name: one\n    pitch_mm: 1\n  - {name: two}\n"
        "use: &p [1.50]\nof: *p\n"
    )
    marks = Source("t", text).marks
    assert marks.at(("title",)).place == (1, 1)
    assert marks.at(("parts", 0)).place == (3, 5)
    assert marks.at(("parts", 0, "pitch_mm")) == Mark(4, 5, "1")
    assert marks.at(("parts", 1, "name")).place == (5, 6)
    assert marks.at(("parts", 1, "absent", "deeper")).place == (5, 5)
    assert marks.at(("of", 0)) == Mark(6, 10, "1.50")
    assert marks.at(("nothing",)).place == (1, 1)


def test_numbers_go_back_to_text_where_text_is_wanted() -> None:
    text = """
title: 4.70
parts:
  - {name: 1206, level: 3}
  - {name: 0402, pitch_mm: 25 mil, count: 3}
  - {name: true, share: 1}
  - {name: 1e3}
table:
  12: {name: 0.10}
"""
    box = parse_model(text, Box, name="t").value
    assert box.title == "4.70"
    assert [part.name for part in box.parts] == ["1206", "0402", "true", "1e3"]
    assert box.parts[0].level == "3"
    assert box.parts[1].pitch_mm == pytest.approx(0.635)
    assert box.table["12"].name == "0.10"


def test_an_aliased_number_goes_back_to_text_too() -> None:
    box = parse_model("parts: [&p {name: 4.70}, *p]\ntitle: 5.10", Box, name="t").value
    assert [part.name for part in box.parts] == ["4.70", "4.70"]


KEYS = "title, parts, table, pets"

FAULTS = [
    (
        "parts: [{name: a, pitch_mm: -1}]",
        "box.yaml:1:19: parts[0].pitch_mm: found -1, must be greater than 0",
    ),
    (
        "parts: [{name: a, pitch_mm: 3 furlong}]",
        "box.yaml:1:19: parts[0].pitch_mm: unknown unit 'furlong'; allowed: mm, um, mil, in",
    ),
    (
        "parts: [{name: a, count: 0}]",
        "box.yaml:1:19: parts[0].count: found 0, must be at least 1",
    ),
    (
        "parts: [{name: a, count: 2.5}]",
        "box.yaml:1:19: parts[0].count: found 2.5, must be a whole number",
    ),
    (
        "parts: [{name: a, count: 05}]",
        "box.yaml:1:19: parts[0].count: found '05', must be a whole number; "
        "write it without quotes or leading zeros",
    ),
    (
        "parts: [{name: a, share: '0,5'}]",
        "box.yaml:1:19: parts[0].share: found '0,5', must be a number; "
        "write the decimal mark as a point",
    ),
    (
        "parts: [{name: a, share: 1e999}]",
        "box.yaml:1:19: parts[0].share: found inf, must be a finite number",
    ),
    (
        "parts: [{name: a, polarised: yes}]",
        "box.yaml:1:19: parts[0].polarised: found 'yes', must be true or false",
    ),
    (
        "parts: [{name: a, level: 2aa}]",
        "box.yaml:1:19: parts[0].level: found '2aa', allowed: 1, 2, 2a, 3; did you mean '2a'?",
    ),
    ("parts: [{count: 1}]", "box.yaml:1:9: parts[0].name: is missing; add this key"),
    ("parts: [7]", "box.yaml:1:9: parts[0]: found 7, must be keys with values"),
    ("parts: {a: 1}", "box.yaml:1:1: parts: found keys with values, must be a list"),
    ("parts: []", "box.yaml:1:1: parts: found a list of 0, needs at least 1 item"),
    ("parts:", "box.yaml:1:1: parts: found nothing, must be a list"),
    ("parts: [{name: ''}]", "box.yaml:1:10: parts[0].name: found '', needs at least 1 character"),
    ("parts: [{name: [x]}]", "box.yaml:1:10: parts[0].name: found a list of 1, must be text"),
    (
        "parts: [{name: a, pich_mm: 1}]",
        "box.yaml:1:19: parts[0].pich_mm: unknown key 'pich_mm'; did you mean 'pitch_mm'?",
    ),
    (
        "parts: [{name: a, zzz: 1}]",
        "box.yaml:1:19: parts[0].zzz: unknown key 'zzz'; "
        "allowed: name, pitch_mm, count, share, polarised, level",
    ),
    (
        "parts: [{name: a}]\ntable:\n  x: {name: b, shrae: 1}",
        "box.yaml:3:16: table.x.shrae: unknown key 'shrae'; did you mean 'share'?",
    ),
    (
        "parts: [{name: a}]\npets: [{kind: cat, lifes: 7}]",
        "box.yaml:2:20: pets[0].lifes: unknown key 'lifes'; did you mean 'lives'?",
    ),
    ("just words", "box.yaml:1:1: found 'just words', must be keys with values"),
    ("", "box.yaml:1:1: the file holds nothing; expected keys: " + KEYS),
    ("# a remark\n", "box.yaml:1:1: the file holds nothing; expected keys: " + KEYS),
    ("a: 1\na: 2", "box.yaml:2:1: key 'a' is written twice (first in line 1); keep one"),
    ("a: 1\n---\nb: 2", "box.yaml:2:1: a second document starts here; keep one per file"),
    ("? [a]\n: 1", "box.yaml:1:3: a key must be plain text"),
    (
        "a: !!python/name:os.system x",
        "box.yaml:1:4: tag 'tag:yaml.org,2002:python/name:os.system' is not allowed; "
        "write plain values",
    ),
    (
        "a: !!str 0402",
        "box.yaml:1:4: tag 'tag:yaml.org,2002:str' is not allowed; write plain values",
    ),
    ("a: *b", "box.yaml:1:4: alias '*b' names nothing complete before it"),
    ("&a [*a]", "box.yaml:1:5: alias '*a' names nothing complete before it"),
    ('a: "\\e[2J"', "box.yaml:1:4: character U+001B is not allowed; remove it"),
    ('"a\\0": 1', "box.yaml:1:1: character U+0000 is not allowed; remove it"),
]


@pytest.mark.parametrize(("text", "line"), FAULTS, ids=[f[0][:40] or "empty" for f in FAULTS])
def test_fault_in_one_line(text: str, line: str) -> None:
    assert lines(text) == [line]


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("parts:\n\t- name: a", "box.yaml:2:1: not valid YAML: "),
        ("a: [1, 2\nb: 3", "box.yaml:2:2: not valid YAML: "),
        ("a: 'open", "box.yaml:1:9: not valid YAML: "),
        ("a: b: c", "box.yaml:1:5: not valid YAML: "),
        ('a: "\\Uffffffff"', "box.yaml:"),
        ("%YAML " + "9" * 5000 + ".1\n---\na: 1", "box.yaml"),
        ("%YAML 1.1\n%YAML 1.1\n--- a", "box.yaml:"),
    ],
)
def test_syntax_faults_have_a_place_and_a_remedy(text: str, place: str) -> None:
    (line,) = lines(text)
    assert line.startswith(place)
    assert line.endswith(("; check indentation, quotes and colons", "; use spaces, not tabs"))
    assert len(line) < 300


def test_all_faults_of_a_file_come_at_once_in_its_order() -> None:
    text = "parts:\n- {name: a, count: 0}\n- {name: b, sharre: 1, share: 3}\ntitel: x\ntitle: []\n"
    assert [line.split(": ")[:2] for line in lines(text)] == [
        ["box.yaml:2:13", "parts[0].count"],
        ["box.yaml:3:13", "parts[1].sharre"],
        ["box.yaml:3:24", "parts[1].share"],
        ["box.yaml:4:1", "titel"],
        ["box.yaml:5:1", "title"],
    ]


def test_many_faults_are_bounded_and_counted() -> None:
    text = "parts:\n" + "- {name: a, count: 0}\n" * 500
    told = lines(text)
    assert len(told) == MAX_PROBLEMS
    assert told[0].startswith("box.yaml:2:13: parts[0].count")
    assert told[-1] == f"box.yaml: and {500 - (MAX_PROBLEMS - 1)} more problems"


def test_all_double_keys_come_at_once() -> None:
    assert len(lines("a: 1\na: 2\nb: 1\nb: 2\n")) == 2


def test_marks_serve_later_checks(tmp_path: Path) -> None:
    path = tmp_path / "box.yaml"
    path.write_text("parts:\n- name: a\n- name: b\n")
    marked = read_model_with_marks(path, Box)
    assert marked.value == read_model(path, Box)
    problem = marked.source.problem(("parts", 1, "name"), "is taken")
    assert str(problem) == f"{path}:3:3: parts[1].name: is taken"


def deep(levels: int) -> str:
    return "[" * levels + "]" * levels


def laughs() -> str:
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    return "\n".join(rows)


BOMBS: list[tuple[str, str, str]] = [
    ("nesting", deep(900), "nested deeper than 40 levels; flatten it"),
    ("deep nesting", deep(3000), "nest"),
    ("block nesting", "- " * 3000 + "x", "nested deeper than 40 levels; flatten it"),
    ("aliases", laughs(), "more than 2000 values; split the file"),
    ("many values", "a: [" + "1," * 2000 + "1]", "more than 2000 values; split the file"),
    ("many aliases", "a: &x 1\nb: [" + "*x," * 300 + "1]", "more than 200 aliases"),
    ("long key", "k" * 900 + ": 1", "a key of 900 characters; at most 200 are allowed"),
]


@pytest.mark.parametrize(("text", "message"), [b[1:] for b in BOMBS], ids=[b[0] for b in BOMBS])
def test_bombs_are_refused(text: str, message: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_values, "MAX_NODES", 2000)
    (line,) = lines(text)
    assert message in line


def test_shared_depth_is_allowed_up_to_the_limit() -> None:
    value: Any = Source("t", deep(40)).value()
    for _ in range(39):
        (value,) = value
    assert value == []
