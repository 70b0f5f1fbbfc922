"""`solderrisk report` writes what it says."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from solderrisk.cli import run

WHO = ["water-lamp", "--bench", "bare", "--builder", "newcomer"]


def test_the_page_has_statement_and_pictures(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    assert run(["report", *WHO, "--html", str(out)]) == 0
    made = out.read_text(encoding="utf-8")
    assert "Difficulty statement" in made
    assert "bench: well-equipped" in made
    assert "<figure" in made


def test_a_bench_of_ones_own_joins_the_statement(tmp_path: Path) -> None:
    bench = tmp_path / "bench.yaml"
    bench.write_text(
        "name: attic\n"
        "irons: [{name: iron, drive: station, power_w: 60, tips: [{width_mm: 1.6}]}]\n"
        "solders: [{alloy: Sn63Pb37}]\n",
        encoding="utf-8",
    )
    out = tmp_path / "report.html"
    argv = ["report", "water-lamp", "--bench", str(bench), "--builder", "newcomer"]
    assert run([*argv, "--html", str(out)]) == 0
    assert "bench: attic" in out.read_text(encoding="utf-8")


def test_rows_open_in_a_spreadsheet(tmp_path: Path) -> None:
    out = tmp_path / "rows.csv"
    assert run(["report", *WHO, "--csv", str(out)]) == 0
    # Spreadsheets know UTF-8 by its mark; other programs read it away as 'utf-8-sig'.
    assert out.read_bytes().startswith(b"\xef\xbb\xbf")
    with out.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert "R1" in {row["ref"] for row in rows}


def test_rows_for_a_pipe_have_no_mark(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", *WHO, "--csv", "-"]) == 0
    assert capsys.readouterr().out.startswith("position_in_order,")


def test_data(tmp_path: Path) -> None:
    out = tmp_path / "report.json"
    assert run(["report", *WHO, "--json", str(out)]) == 0
    assert json.loads(out.read_text(encoding="utf-8"))["kit"] == "water-lamp"


def test_text_has_cards(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", *WHO, "--text", "-"]) == 0
    out = capsys.readouterr().out
    assert "TECHNIQUE CARDS" in out
    assert out.endswith("\n")


def test_one_form_at_a_time(capsys: pytest.CaptureFixture[str]) -> None:
    for forms in ([], ["--json", "-", "--csv", "-"]):
        with pytest.raises(SystemExit) as stop:
            run(["report", *WHO, *forms])
        assert stop.value.code == 2
    capsys.readouterr()
