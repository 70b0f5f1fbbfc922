"""Wald's test by its formulas, what a block lists, and sums at their edge."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.question import Question, Run
from solderrisk.plan.assess import assess
from solderrisk.plan.practice import SequentialTest, joints_for_claim, upper_bound
from solderrisk.plan.results import Judgement
from solderrisk.plan.sensitivity import _possible
from solderrisk.plan.verdict import expected_loss
from solderrisk.report.order import _hand_tools, _looks, _waits
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Range
from tests.plan import kit_builder as make
from tests.plan.kit_builder import part
from tests.plan.test_precedence import before, edge, precedence


def test_wald_s_lines_by_his_formulas() -> None:
    """Wald, Sequential Analysis 5.3: both lines have the slope ln((1 - p0) / (1 - p1)) and the
    intercepts ln((1 - a) / b) and ln((1 - b) / a), over the log of the odds ratio."""
    test = SequentialTest(good=0.05, bad=0.15, miss=0.1, harsh=0.2)
    odds = math.log((0.15 / 0.85) / (0.05 / 0.95))
    assert test.slope == pytest.approx(math.log(0.95 / 0.85) / odds)
    assert test.pass_intercept == pytest.approx(math.log(0.8 / 0.1) / odds)
    assert test.fail_intercept == pytest.approx(math.log(0.9 / 0.2) / odds)


@pytest.mark.parametrize("faults", [0, 1, 4])
def test_a_sequential_test_passes_at_its_count_and_not_before(faults: int) -> None:
    test = SequentialTest(good=0.05, bad=0.15)
    enough = test.passes_at(faults)
    assert test.decide(faults, enough) == "pass"
    assert test.decide(faults, enough - 1) == "go on"
    # As many faults as joints speak as soon as they are above the other line.
    least = math.ceil(test.fail_intercept / (1 - test.slope))
    assert test.decide(least, least) == "fail"
    assert test.decide(least - 1, least - 1) == "go on"


def test_no_fault_at_all_is_what_a_claim_asks_for_unless_told() -> None:
    """Rule of three: 59 joints for 5 % with 95 %; half of one in two is shown by one joint. A
    record of nothing but faults shows nothing."""
    assert joints_for_claim(0.05, 0.95) == 59
    assert joints_for_claim(0.5, 0.5) == 1
    assert joints_for_claim(0.1, 0.9, 1) == 38
    assert joints_for_claim(0.71, 0.5, 1) == 2  # not both of two: 1 - 0.71 ** 2 is under a half
    assert upper_bound(3, 3, 0.9) == 1.0
    assert upper_bound(0, 1, 0.9) == pytest.approx(0.9)
    for rate, confidence, allowed in ((0.0, 0.9, 0), (1.0, 0.9, 0), (0.1, 0.0, 0), (0.1, 1.0, 0),
                                      (0.1, 0.9, -1), (1e-6, 0.9, 1)):  # fmt: skip
        with pytest.raises(ValueError, match="rate"):
            joints_for_claim(rate, confidence, allowed)


KIT = make.kit(
    placements=[part("R1-R2", "R"), part("J1", "DIP")],
    wires=[{"ref": "W1", "board": "main", "connections": 4}],
    tasks=[
        {"ref": "wash", "title": "Wash", "kind": "clean"},
        *({"ref": f"t{h}", "title": f"Wait {h}", "kind": "other", "wait_hours": h}
          for h in (4.0, 12.0, 24.0, 25.0, 48.0, 49.0)),
    ],
)  # fmt: skip
JOBS = {job.ref: job for job in make.jobs(KIT)}


def test_tools_taken_for_granted_by_what_is_in_a_block() -> None:
    cutters, strip, tweezers = (
        "flush cutters", "cutters, something to strip with", "fine tweezers",
    )  # fmt: skip

    def tools(*refs: str) -> list[str]:
        return list(_hand_tools([JOBS[ref] for ref in refs]))

    assert tools("R1") == [tweezers]
    assert tools("J1") == [cutters]
    assert tools("R1", "J1") == [cutters, tweezers]
    assert tools("W1", "R1", "J1") == [strip, tweezers]


def test_one_washing_in_a_block_must_dry() -> None:
    dry = "let it dry; bottle and rags away before anything hot"
    assert dry in _looks([JOBS["R1"], JOBS["wash"]])
    assert dry in _looks([JOBS["wash"]])
    assert dry not in _looks([JOBS["R1"]])
    assert dry not in _looks([JOBS["t12.0"]])


def test_second_looks_that_a_bench_can_add() -> None:
    """A second person only where there is none yet; a meter where there is one and a joint."""
    alone, helped, metered = (
        Bench(name="b", aids=aids) for aids in ((), ("second_person",), ("multimeter",))
    )
    lift: Any = SimpleNamespace(kind="lift")
    fit = JOBS["R1"]
    assert [_possible("second_person", fit, b) for b in (alone, helped)] == [True, False]
    assert [_possible("meter", fit, b) for b in (alone, metered)] == [False, True]
    assert not _possible("meter", lift, metered)
    assert _possible("second_person", lift, metered)


def test_what_a_build_loses_by_hand() -> None:
    """Ruined on the way 2, and 30 sunk in the mean over four builds of which one fails: 120 where
    it fails; a build that never fails loses what it ruins."""

    def loss(works: list[float]) -> Range:
        risk: Any = SimpleNamespace(
            working_samples=np.array(works), ruined_samples=np.full(len(works), 2.0)
        )
        return expected_loss(risk, 30.0)

    assert loss([1.0] * 4).mid == 2.0
    assert loss([0.75] * 4).mid == pytest.approx(32.0)
    none: Any = SimpleNamespace(
        working_samples=None, ruined_samples=None, ruined=Range(1.0, 2.0, 3.0)
    )
    assert expected_loss(none, 30.0) == Range(32.0, 32.0, 32.0)


@pytest.mark.parametrize(("hours", "told"), [(4.0, ""), (24.0, "the day before"),
                                             (25.0, "2 days before"), (48.0, "2 days before"),
                                             (49.0, "3 days before")])  # fmt: skip
def test_work_that_waits_is_begun_in_time(hours: float, told: str) -> None:
    (job,) = (each for each in JOBS.values() if each.task and each.task.wait_hours == hours)
    found = list(_waits([job]))
    assert (not told and not found) or (len(found) == 1 and found[0].endswith(told))


@pytest.mark.parametrize(("tall_side", "flat_side"), [("top", "bottom"), ("bottom", "top")])
def test_the_side_whose_tallest_part_is_lower_comes_first(tall_side: str, flat_side: str) -> None:
    """A chip and a can of 6 mm on one side, a coil of 3.5 mm on the other: the can waits."""
    kit = make.kit(placements=[part("R1", "R", side=tall_side), part("C1", "CAN", side=tall_side),
                               part("L1", "COIL", side=flat_side)])  # fmt: skip
    found = precedence(kit)
    assert edge(found, "fit:L1", "fit:C1").rule == "side"
    assert not before(found, kit, "fit:C1", "fit:L1")
    assert not before(found, kit, "fit:L1", "fit:R1")


def test_how_far_an_assessment_is_by_its_parts() -> None:
    """Chances to 0.4, second looks to 0.6, the order to 0.95, of which the search takes all but the
    ends; then the cards."""
    reference = load_reference()
    kit = make.kit(placements=[part("R1,R2", "R"), part("U1", "SO")])
    bench = Bench.model_validate({
        "name": "b", "solders": [{"alloy": "Sn63Pb37"}], "aids": ["multimeter", "tweezers"],
        "irons": [{"name": "i", "drive": "station", "power_w": 60, "tips": [{"width_mm": 2}]}],
    })  # fmt: skip
    question = Question(kit, bench, Builder(name="p"), make.LIBRARY, reference, samples=50)
    seen: dict[str, list[float]] = {}
    run = Run(lambda share, what: seen.setdefault(what, []).append(round(share, 6)))
    assess(question, RiskEngine(reference), run=run)
    assert seen["trying second looks"][0] == 0.4
    assert seen["what has to come before what"] == [0.6]
    order = seen["looking for the best order"]
    assert (order[0], order[-1]) == (0.6, 0.95)
    assert seen["writing the cards"] == [0.95]


def test_what_counts_as_leaning_and_as_a_figure() -> None:
    """A half leans; one reference of ten that is not counted leaves a figure, one of nine none."""
    assert Judgement("open", 0.5).leaning
    assert not Judgement("open", 0.49).leaning
    assert not Judgement("no", 0.9).leaning
    assert Judgement("open", 0.5, missing=1, counted=9).has_figure
    assert not Judgement("open", 0.5, missing=1, counted=8).has_figure
    assert Judgement("open", 0.5).has_figure
