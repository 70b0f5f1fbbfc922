"""The public face, and what one session keeps apart."""

from __future__ import annotations

import subprocess
import sys

import solderrisk
from solderrisk import Session, open_inputs
from solderrisk.plan.verdict import alignment_of
from solderrisk.report.data import KINDS, Told

ASKED = open_inputs("water-lamp", "decent", "hobbyist")


def test_six_lines_are_enough() -> None:
    found = Session().assess(ASKED)
    assert found.verdict.chance.mid > 0.5
    assert set(solderrisk.__all__) <= {
        *dir(solderrisk),
        "Question",
        "Run",
        "Session",
        "open_inputs",
    }


def test_the_package_loads_nothing_before_it_is_asked() -> None:
    loaded = "import sys, solderrisk; print('pydantic' in sys.modules, 'numpy' in sys.modules)"
    told = subprocess.run(
        [sys.executable, "-c", loaded], capture_output=True, text=True, check=True
    )
    assert told.stdout.split() == ["False", "False"]


def test_a_target_of_nothing_is_kept() -> None:
    assert ASKED.but(target=0.0).wanted == 0.0
    session = Session()
    assert session.assess(ASKED.but(target=0.0)).verdict.target == 0.0
    assert session.advise(ASKED.but(target=0.0)).buys == ()


def test_numbers_that_are_moved_answer_for_themselves() -> None:
    session = Session()
    moved = ASKED.but(reference=ASKED.reference.assuming({"bridge_rate": 0.05}))
    plain = session.chances(ASKED)
    assert session.chances(moved).working.mid != plain.working.mid
    assert session.chances(ASKED) is not plain
    assert session.chances(ASKED).working == plain.working


def test_an_assumed_class_reaches_every_drawing() -> None:
    asked = open_inputs("rain-counter", "decent", "hobbyist").but(samples=200)
    strict = asked.but(reference=asked.reference.assuming({"acceptance_class": 3}))
    classes = {
        of: {found.acceptance_class for job in of.jobs
             if (found := alignment_of(job, of.reference)) is not None}
        for of in (asked, strict)
    }  # fmt: skip
    assert classes == {asked: {2}, strict: {3}}
    session = Session()
    told = Told(session, strict, session.assess(strict), only=["cards"])
    page = KINDS[0].made(told)
    assert "product class 3" in page
    assert "product class 2" not in page
