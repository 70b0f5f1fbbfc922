"""Start-up measured side by side: our first frame against an empty Textual app's, and the
command line's help against bare Python with argparse. Ratios, since machines differ; in
processor time and with compiled modules, as installed, on both sides."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 15
FRAME_ALLOWED, HELP_ALLOWED, ASSESS_ALLOWED = 1.5, 1.3, 2.0

FIRST_FRAME = """
import asyncio, os, time
{setup}
class Measured({base}):
    def on_ready(self):
        self.call_after_refresh(self._done)
    def _done(self):
        os.write(1, b"frame")
        os._exit(0)
Measured().run(headless=True)
"""
EMPTY = FIRST_FRAME.format(
    setup="from textual.app import App\nfrom textual.widgets import Static\n"
    "class Empty(App):\n    def compose(self):\n        yield Static('hello')",
    base="Empty",
)
OURS = FIRST_FRAME.format(
    setup="from solderrisk.tui.app import SolderriskApp", base="SolderriskApp"
)
NEEDED = "import numpy, scipy.special, pydantic, yaml"
BARE = "import argparse; argparse.ArgumentParser().parse_args([])"


def seconds(*command: str) -> float:
    """Processor time of one run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    env = {**os.environ, "TERM": "xterm"}
    env.pop("PYTHONDONTWRITEBYTECODE", None)  # else ours alone is compiled anew each time
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True, env=env)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def best_ratio(ours: tuple[str, ...], theirs: tuple[str, ...]) -> tuple[float, float, float]:
    """Best of several rounds, taken in turns so that load hits both alike."""
    pairs = [(seconds(*ours), seconds(*theirs)) for _ in range(ROUNDS)]
    mine, other = min(p[0] for p in pairs), min(p[1] for p in pairs)
    return mine / other, mine, other


@pytest.mark.slow
def test_first_frame_near_an_empty_app() -> None:
    ratio, mine, other = best_ratio((sys.executable, "-c", OURS), (sys.executable, "-c", EMPTY))
    print(f"first frame {1000 * mine:.0f} ms, empty app {1000 * other:.0f} ms, ratio {ratio:.2f}")
    assert ratio <= FRAME_ALLOWED


@pytest.mark.slow
@pytest.mark.parametrize("flag", ["--help", "--version"])
def test_help_near_bare_argparse(flag: str) -> None:
    ratio, mine, other = best_ratio(
        (sys.executable, "-m", "solderrisk", flag), (sys.executable, "-c", BARE)
    )
    print(f"{flag} {1000 * mine:.0f} ms, bare {1000 * other:.0f} ms, ratio {ratio:.2f}")
    assert ratio <= HELP_ALLOWED


@pytest.mark.slow
def test_assess_near_the_imports_it_cannot_do_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """With what is read once kept, as it is from the second run on."""
    monkeypatch.delenv("SOLDERRISK_NO_SETTINGS")
    ours = (sys.executable, "-m", "solderrisk", "assess", "water-lamp")
    seconds(*ours)
    ratio, mine, other = best_ratio(ours, (sys.executable, "-c", NEEDED))
    print(f"assess {1000 * mine:.0f} ms, imports {1000 * other:.0f} ms, ratio {ratio:.2f}")
    assert ratio <= ASSESS_ALLOWED
