"""The command line as a user meets it: exit status, streams, no traceback."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from solderrisk.arguments import COMMANDS, parser
from solderrisk.cli import run
from solderrisk.console import EXAMPLES
from solderrisk.plan import sensitivity
from solderrisk.risk import options

ROOT = Path(__file__).resolve().parents[2]


def test_a_hobbyist_manages_the_first_kit_on_a_decent_bench(
    capsys: pytest.CaptureFixture[str],
) -> None:
    status = run(["assess", "water-lamp", "--bench", "decent", "--builder", "hobbyist"])
    out = capsys.readouterr()
    assert status == 0
    assert "MANAGEABLE" in out.out
    assert "invented data" in out.out
    assert out.err == ""


def test_bare_bench_is_told_what_it_lacks(capsys: pytest.CaptureFixture[str]) -> None:
    status = run(["assess", "river-recorder", "--bench", "bare", "--builder", "hobbyist"])
    out = capsys.readouterr().out
    assert status == 1
    assert "nothing on this bench can lift" in out
    assert "needs" in out


def test_what_each_check_is_worth_is_worked_out_where_it_is_shown(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ["assess", "water-lamp", "--bench", "decent", "--builder", "hobbyist"]
    run([*asked, "--json"])
    assert json.loads(capsys.readouterr().out)["second_looks"]
    run([*asked, "--show", "risk"])
    assert "CHECKS THAT PAY" in capsys.readouterr().out
    # Not called otherwise: it would be a fault.
    monkeypatch.setattr(sensitivity, "second_looks", None)
    monkeypatch.setattr(options, "cheapest_sets", lambda works, *_: [1 / 0 for _ in works])
    run(asked)
    assert "MANAGEABLE" in capsys.readouterr().out


def test_json_is_data_alone(capsys: pytest.CaptureFixture[str]) -> None:
    run(["assess", "rain-counter", "--json"])
    out = capsys.readouterr()
    data = json.loads(out.out)
    assert data["kit"] == "rain-counter"
    assert 0 <= data["verdict"]["chance"]["low"] <= data["verdict"]["chance"]["high"] <= 1
    assert "decent" in out.err  # which bench was taken is a message, not data


def test_hard_kit_names_its_two_dangers(capsys: pytest.CaptureFixture[str]) -> None:
    run(["assess", "river-recorder", "--bench", "well-equipped", "--builder", "hobbyist", "--json"])
    top = json.loads(capsys.readouterr().out)["verdict"]["top"]
    assert any(key.endswith(":U1") for key in top)
    assert any(key.endswith(":U3") for key in top)


def test_same_answer_on_every_run(capsys: pytest.CaptureFixture[str]) -> None:
    answers = []
    for _ in range(2):
        run(["assess", "rain-counter", "--bench", "decent", "--builder", "hobbyist"])
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]


BAD = [
    (["assess", "no-such-kit"], "no-such-kit"),
    (["assess", "missing/kit.yaml"], "no such file"),
    (["assess", "."], "folder"),
    (["assess", "water-lamp", "--bench", "nowhere"], "nowhere"),
    (["assess", "water-lamp", "--target", "150"], "is no chance"),
    (["assess", "water-lamp", "--assume", "no_such_rate=1"], "no_such_rate"),
    (["assess", "water-lamp", "--assume", "x"], "NAME=VALUE"),
    (["assess", "water-lamp", "--assume", "bridge_rate=nan"], "finite"),
    (["assess", "water-lamp", "--assume", "bridge_rate=-0.1"], "must not be negative"),
    (["assess", "water-lamp", "--assume", "bridge_rate=2"], "at most 1"),
    (["assess", "water-lamp", "--assume", "acceptance_class=20"], "nearer to the packaged"),
    (["assess", "water-lamp", "--seed", "-1"], "whole number"),
    (["assess", "water-lamp", "--seed", "1e3"], "whole number"),
    (["assess", "water-lamp", "--target", "nan"], "is no chance"),
    (["assess", "water-lamp", "--library", "missing"], "no such folder"),
    (["assess"], "KIT"),
    (["schema", "board"], "invalid choice"),
    (["frobnicate"], "frobnicate"),
    (["footprints", "zzzz"], "zzzz"),
]


@pytest.mark.parametrize(("argv", "told"), BAD, ids=[" ".join(argv) for argv, _ in BAD])
def test_bad_input_is_one_line_and_status_two(
    argv: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        status = run(argv)
    except SystemExit as stop:
        status = int(stop.code or 0)
    out = capsys.readouterr()
    assert status == 2
    assert out.out == ""
    assert told in out.err
    assert "Traceback" not in out.err
    notes = [line for line in out.err.splitlines() if "setup asks for yours" not in line]
    assert len(notes) == 1


def test_a_day_before_a_record_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    builder = tmp_path / "ada.yaml"
    builder.write_text(
        "name: Ada\nlevel: several\nrecords:\n"
        "  - {skill: iron_through_hole, joints: 40, faults: 1, date: 2026-03-01}\n"
    )
    asked = ["assess", "water-lamp", "--builder", str(builder), "--as-of"]
    assert run([*asked, "2026-02-28"]) == 2
    told = capsys.readouterr().err
    assert f"{builder}:4:" in told
    assert "2026-03-01 is after --as-of 2026-02-28; give 2026-03-01 or a later day" in told
    assert run([*asked, "2026-03-01"]) == 0


def test_a_reused_cable_that_is_too_thin_is_a_finding(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["assess", "river-recorder", "--bench", "well-equipped", "--builder", "bench-hand"]
    run([*asked, "--show", "risk"])
    out = " ".join(capsys.readouterr().out.split())
    assert "has 4 conductors, the boards ask for 5" in out
    assert "one wire more" in out


def test_reports_never_write_over_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out.html"
    args = ["report", "water-lamp", "--bench", "bare", "--builder", "newcomer", "--html", str(out)]
    assert run(args) == 0
    first = out.read_text(encoding="utf-8")
    assert first.startswith("<!doctype html>")
    assert run(args) == 2
    assert "exists" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == first


@pytest.mark.parametrize("form", ["--csv", "--json", "--text"])
def test_reports_to_stdout(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["report", "water-lamp", "--bench", "bare", "--builder", "newcomer", form, "-"]
    assert run(argv) == 0
    out = capsys.readouterr().out
    assert "R1" in out


def test_statement_and_ladder(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["statement", "water-lamp"]) == 0
    out = capsys.readouterr().out
    words = ("never soldered", "a kit or two", "several kits", "every week", "trained")
    assert all(word in out for word in words)
    assert run(["practise", "--builder", "newcomer"]) == 0
    assert "pass mark" in capsys.readouterr().out


def test_assumed_numbers_are_listed_with_range_and_source(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["assumed"]) == 0
    out = capsys.readouterr().out
    assert "bridge_rate" in out
    assert "0.004, 0.001 to 0.012 per gap; assumed: sized by judgement" in out


def test_what_the_chance_rests_on(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["assumed", "water-lamp", "--bench", "bare", "--builder", "newcomer"]) == 0
    out = capsys.readouterr().out
    assert "--assume NAME=VALUE" in out
    assert " % to " in out


def test_advice_reaches_the_target_or_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    status = run(["advise", "rain-counter", "--bench", "bare", "--builder", "newcomer"])
    out = capsys.readouterr().out
    assert status == (1 if "Nothing in the list" in out else 0)
    assert "One thing at a time" in out


def test_json_report_fits_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    """Every key that is written is described, and no key that is described is missing."""
    assert run(["schema", "report"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$schema"].startswith("https://json-schema.org/")
    run(["assess", "river-recorder", "--bench", "decent", "--builder", "hobbyist", "--json"])
    assert list(_misfits(json.loads(capsys.readouterr().out), schema, schema["$defs"])) == []


def _misfits(value: object, schema: dict[str, Any], kinds: dict[str, Any]) -> Iterator[str]:
    """What the schema does not allow; knows the keywords that this schema uses, no others."""
    if "$ref" in schema:
        yield from _misfits(value, kinds[schema["$ref"].rpartition("/")[2]], kinds)
    elif "anyOf" in schema:
        if all(any(_misfits(value, one, kinds)) for one in schema["anyOf"]):
            yield f"{value!r} fits none of {schema['anyOf']}"
    elif "enum" in schema or "const" in schema:
        if value not in schema.get("enum", [schema.get("const")]):
            yield f"{value!r} is not among {schema}"
    elif schema["type"] == "object":
        assert isinstance(value, dict)
        if set(value) != set(schema["properties"]) or set(value) != set(schema["required"]):
            yield f"keys {sorted(value)} against {sorted(schema['properties'])}"
        else:
            for key, inner in schema["properties"].items():
                yield from _misfits(value[key], inner, kinds)
    elif schema["type"] == "array":
        assert isinstance(value, list)
        for item in value:
            yield from _misfits(item, schema["items"], kinds)
    else:
        known = {"string": str, "number": (int, float), "integer": int, "boolean": bool}
        known["null"] = type(None)
        if not isinstance(value, known[schema["type"]]):
            yield f"{value!r} is no {schema['type']}"


def test_help_and_version_load_nothing_heavy() -> None:
    code = (
        "import sys; from solderrisk.__main__ import main\n"
        "try: main([sys.argv[1]])\n"
        "except SystemExit: pass\n"
        "heavy = {'textual', 'numpy', 'scipy', 'pydantic', 'yaml', 'python_calamine'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))\n"
    )
    for flag in ("--help", "--version"):
        done = subprocess.run(
            [sys.executable, "-c", code, flag], capture_output=True, text=True, cwd=ROOT, check=True
        )
        assert done.stdout.rstrip().endswith("LOADED []")


def test_every_command_has_an_example_that_it_understands() -> None:
    assert set(EXAMPLES) == set(COMMANDS)
    for name, example in EXAMPLES.items():
        words = shlex.split(example)
        assert parser(name).parse_args(words).command == name


def test_recording_loads_nothing_heavy() -> None:
    """At the bench each key counts: the journal's commands do without models and numbers."""
    code = (
        "import sys, solderrisk.journal_cli\n"
        "heavy = {'textual', 'numpy', 'scipy', 'pydantic', 'yaml', 'dataclasses', 'inspect'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stdout.rstrip() == "LOADED []"


def test_without_a_terminal_the_ui_says_what_to_do() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "solderrisk"], capture_output=True, text=True, cwd=ROOT, check=False,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.returncode == 2
    assert "assess" in done.stderr


def test_a_closed_pipe_is_no_fault() -> None:
    done = subprocess.run(
        ["bash", "-c", f"{sys.executable} -m solderrisk footprints | head -n 1"],
        capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.stderr == ""
