"""Streams as shells and schedulers hand them over: closed, full, ASCII only, cut short."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = f"'{sys.executable}' -m solderrisk"
KIT = """\
name: lamp
title: "Lämpchen 漢字 😀 µΩ"
boards: [{name: main}]
placements: [{refs: R1, footprint: RESISTOR-AXIAL-0.25W, board: main, value: 10 kΩ}]
"""
WHO = "--bench decent --builder hobbyist"


def shell(line: str, *, cwd: Path = ROOT, **environ: str) -> subprocess.CompletedProcess[bytes]:
    """Run a line in bash with a bare environment."""
    keep = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", line],
        capture_output=True, cwd=cwd, check=False, timeout=60, env={**keep, **environ},
    )  # fmt: skip


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_every_encoding_bears_every_title(tmp_path: Path, encoding: str) -> None:
    (tmp_path / "kit.yaml").write_text(KIT, encoding="utf-8")
    done = shell(f"{PROGRAM} assess kit.yaml {WHO}", cwd=tmp_path, PYTHONIOENCODING=encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    wanted = "Lämpchen".encode(encoding, "backslashreplace")
    assert wanted in done.stdout


def test_locale_c_without_a_home(tmp_path: Path) -> None:
    (tmp_path / "kit.yaml").write_text(KIT, encoding="utf-8")
    done = shell(
        f"{PROGRAM} report kit.yaml {WHO} --html -", cwd=tmp_path,
        LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0", TERM="dumb",
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode("ascii").startswith("<!doctype html>")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
@pytest.mark.parametrize("command", ["--help", "schema kit", f"assess water-lamp {WHO}"])
def test_a_full_disk_is_told_in_one_line(command: str) -> None:
    done = shell(f"{PROGRAM} {command} >/dev/full")
    assert done.returncode == 2
    assert done.stderr.decode().count("\n") == 1
    assert b"stdout takes no more" in done.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
def test_a_draft_whose_report_is_lost_is_whole(tmp_path: Path) -> None:
    (tmp_path / "bom.csv").write_text("Ref,Value,Package\nR1,10k,0603\n")
    done = shell(f"{PROGRAM} draft bom.csv -o kit.yaml >/dev/full", cwd=tmp_path)
    assert done.returncode == 2
    assert b"stdout takes no more" in done.stderr
    assert (tmp_path / "kit.yaml").read_text().count("R1") >= 1


def test_a_closed_stdout_is_told() -> None:
    done = shell(f"{PROGRAM} footprints >&-")
    assert done.returncode == 2
    assert b"stdout is closed" in done.stderr


def test_messages_never_land_on_stdout() -> None:
    done = shell(f"{PROGRAM} assess no-such-kit 2>&-")
    assert (done.returncode, done.stdout) == (2, b"")


def test_a_closed_stdin_is_no_fault() -> None:
    done = shell(f"{PROGRAM} <&-")
    assert done.returncode == 2
    assert b"needs a terminal" in done.stderr


def test_a_reader_that_leaves_early_keeps_the_verdict() -> None:
    line = f"{PROGRAM} report river-recorder --bench bare --builder newcomer --csv - | head -c 1"
    assert shell(line).stderr == b""
    line = f"{PROGRAM} assess river-recorder --bench bare --builder newcomer --json | head -c 1"
    done = shell(line)
    assert (done.returncode, done.stderr) == (1, b"")


def test_a_kit_from_a_pipe() -> None:
    done = shell(f"{PROGRAM} assess <(cat solderrisk/demo/kits/water-lamp.yaml) {WHO}")
    assert (done.returncode, done.stderr) == (0, b"")


def test_nothing_in_a_message_moves_the_cursor() -> None:
    done = shell(f"{PROGRAM} assess $'a\\nb\\e[31m.yaml' --bench $'\\e[2J' --builder newcomer")
    assert done.returncode == 2
    assert b"\x1b" not in done.stderr
    done = shell(f"{PROGRAM} $'\\e[2J'")
    assert done.returncode == 2
    assert b"\x1b" not in done.stderr
    assert done.stderr.decode().count("\n") == 1
