"""What recording costs: a cold command against ``--version``, a key against a bare fsync."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

from solderrisk.journal.standing import standing
from tests.journal.bench import REFERENCE, assessed, begun

ROUNDS = 15
COMMIT_MS = 3.0  # processor time of the log's write, sync and closing


def cpu_ms(compiled: Path, *words: str) -> float:
    """Processor time of a command whose modules are compiled, as they are once installed."""
    env = {**os.environ, "PYTHONPYCACHEPREFIX": str(compiled)}
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-m", "solderrisk", *words]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True, env=env)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return 1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


@pytest.mark.slow
def test_a_cold_record_costs_little_more_than_version(tmp_path: Path) -> None:
    recorder = begun(tmp_path / "j.sqlite")
    recorder.journal.close()
    words = ("record", "bench-kit", "note", "hello", "--journal", str(tmp_path / "j.sqlite"))
    kept = tmp_path / "compiled"
    pairs = [(cpu_ms(kept, *words), cpu_ms(kept, "--version")) for _ in range(ROUNDS)]
    record, version = min(p[0] for p in pairs), min(p[1] for p in pairs)
    print(f"record {record:.1f} ms, version {version:.1f} ms of processor time")
    assert record <= 1.5 * version + COMMIT_MS


@pytest.mark.slow
def test_a_key_costs_little_more_than_an_fsync_and_moves_the_numbers(tmp_path: Path) -> None:
    recorder = begun(tmp_path / "j.sqlite")
    took, synced, moved = [], [], []
    with open(tmp_path / "bare", "wb") as bare:
        for n in range(60):
            start = time.perf_counter()
            recorder.note(f"note {n}")
            took.append(time.perf_counter() - start)
            start = time.perf_counter()
            bare.write(b"x" * 4096)
            bare.flush()
            os.fsync(bare.fileno())
            synced.append(time.perf_counter() - start)
            start = time.process_time()
            standing(assessed(), REFERENCE, recorder.state)
            moved.append(time.process_time() - start)
    record, sync = 1000 * statistics.median(took), 1000 * statistics.median(synced)
    print(f"record {record:.1f} ms, fsync {sync:.1f} ms, numbers {1000 * max(moved):.1f} ms")
    assert record - sync <= 10
    assert max(moved) <= 0.1
