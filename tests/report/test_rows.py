"""Rows for a spreadsheet."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.plan.results import Assessment
from solderrisk.report.groups import COLUMNS, as_csv, as_text


def rows(a: Assessment) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(a)), strict=True))


def test_a_row_per_soldered_job(hard: Assessment) -> None:
    found = rows(hard)
    assert [f"{row['kind']}:{row['ref']}" for row in found] == [r.job.key for r in hard.risk.jobs]
    assert all(set(row) == set(COLUMNS) and None not in row.values() for row in found)


def test_figures_are_figures(hard: Assessment) -> None:
    for row, risk in zip(rows(hard), hard.risk.jobs, strict=True):
        assert float(row["chance"]) == pytest.approx(risk.chosen.after_mending.mid, abs=6e-5)
        assert float(row["chance_low"]) <= float(row["chance"]) <= float(row["chance_high"])
        assert hard.order.keys[int(row["position_in_order"]) - 1] == risk.job.key
    assert sum(float(row["share_of_failure"]) for row in rows(hard)) == pytest.approx(1, abs=0.01)


def test_blocked_work_names_no_technique(lacking: Assessment) -> None:
    by_ref = {(row["kind"], row["ref"]): row for row in rows(lacking)}
    assert by_ref["lift", "U1"]["technique"] == ""
    assert by_ref["lift", "U1"]["tooling_needed"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\n-", " @"])
def test_no_cell_is_a_formula(start: str) -> None:
    assert as_text(f"{start}1+1").startswith("'")


def test_plain_cells_stay_plain() -> None:
    assert as_text("10 k, 1 %") == "10 k, 1 %"


@settings(max_examples=100)
@given(st.text(max_size=20))
def test_whatever_a_person_writes(text: str) -> None:
    cell = as_text(text)
    assert not cell.startswith(("=", "+", "-", "@"))
    assert "\n" not in cell
    assert "\r" not in cell
