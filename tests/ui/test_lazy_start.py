"""Nothing heavy is imported before the first frame."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import sys
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.screens.verdict import VerdictScreen
heavy = {"numpy", "scipy", "pydantic", "yaml"} & set(sys.modules)
print(",".join(sorted(heavy)))
"""


def test_the_first_frame_needs_no_numbers() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == ""
