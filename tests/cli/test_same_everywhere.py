"""The same files give the same answer on another processor, to the last digit told."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

ASSESS = ("assess", "river-recorder", "--bench", "well-equipped", "--builder", "hobbyist", "--json")
# Instructions that older processors lack, by the names that numpy's versions give them.
NEWER = ("X86_V3 X86_V4 AVX512_ICL AVX512_SPR", "AVX512F AVX512CD AVX512_SKX AVX2 FMA3")


def told(**environ: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "solderrisk", *ASSESS],
        env={**os.environ, **environ},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stderr  # a no is an answer
    return done.stdout


@pytest.fixture(scope="module")
def here() -> str:
    return told()


@pytest.mark.parametrize(
    "environ",
    [
        {"OPENBLAS_CORETYPE": "Haswell", "NPY_DISABLE_CPU_FEATURES": NEWER[1]},
        {"OPENBLAS_CORETYPE": "Prescott", "NPY_DISABLE_CPU_FEATURES": NEWER[0]},
    ],
    ids=["newer", "oldest"],
)
def test_on_another_processor(here: str, environ: dict[str, str]) -> None:
    assert told(**environ) == here
