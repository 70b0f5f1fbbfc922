"""Large kits: 10,000 placements within 20 s of processor time and 600 MB, growing hardly faster
than the kit; a search that is stopped is back within a second."""

from __future__ import annotations

import math
import random
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.question import Run, Stopped
from solderrisk.plan.results import Search
from solderrisk.session import Session

KINDS = (
    *("CHIP-0603",) * 6, *("CHIP-0805",) * 4, "CHIP-0402", "SOIC-8", "SOT-23", "QFN-32",
    "TSSOP-16", "DIP-8", "RESISTOR-AXIAL-0.25W", "CAN-6.3X5.4", "LED-5MM", "AUDIO-JACK-3.5",
    "LQFP-48",
)  # fmt: skip


def kit_file(folder: Path, count: int, alike: int) -> Path:
    """``count`` placed parts, as many ``alike`` in an entry, on one large board."""
    rng = random.Random(1)
    row = math.isqrt(count) + 1
    side = max(100, math.isqrt(count * 60))
    lines = [
        "name: large\ninvented: true\ncurrency: EUR\nalloy: Sn63Pb37\nboards:",
        f"  - {{name: main, length_mm: {side}, width_mm: {side}, copper_layers: 2, price: 20}}",
        "placements:",
    ]
    for start in range(0, count, alike):
        refs = range(start, min(start + alike, count))
        at = ", ".join(
            f"{{ref: X{n}, x_mm: {(n % row + 0.5) * side / row:.2f}, "
            f"y_mm: {(n // row + 0.5) * side / row:.2f}}}"
            for n in refs
        )
        lines.append(
            f"  - {{refs: '{', '.join(f'X{n}' for n in refs)}', footprint: {rng.choice(KINDS)}, "
            f"board: main, price_each: {rng.uniform(0.01, 3):.3f}, positions: [{at}]}}"
        )
    lines.append("gates:\n  - {ref: G1, title: Rails, kind: rail, after: [X0], before: [X5]}")
    path = folder / f"large-{count}-{alike}.yaml"
    path.write_text("\n".join(lines))
    return path


def spent(path: Path) -> tuple[float, float]:
    """Processor time in s and peak memory in MB of assessing a kit from the command line."""
    code = (
        "import resource, sys; from solderrisk.__main__ import main\n"
        "sys.argv = ['solderrisk', 'assess', sys.argv[1], '--bench', 'well-equipped', "
        "'--builder', 'hobbyist']\n"
        "status = main()\n"
        "used = resource.getrusage(resource.RUSAGE_SELF)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, file=sys.stderr)\n"
        "sys.exit(status)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode in (0, 1), done.stderr
    seconds, memory = done.stderr.split()[-2:]
    return float(seconds), float(memory)


def test_ten_thousand_placements(tmp_path: Path) -> None:
    small, _ = spent(kit_file(tmp_path, 1_000, 25))
    large, memory = spent(kit_file(tmp_path, 10_000, 25))
    print(f"1,000: {small:.1f} s; 10,000: {large:.1f} s, {memory:.0f} MB")
    assert large < 20
    assert memory < 600
    assert math.log10(large / small) < 1.3


def test_twenty_thousand_placements_grow_hardly_faster_than_the_kit(tmp_path: Path) -> None:
    small, _ = spent(kit_file(tmp_path, 1_000, 25))
    large, _ = spent(kit_file(tmp_path, 20_000, 25))
    print(f"1,000: {small:.1f} s; 20,000: {large:.1f} s")
    assert math.log(large / small) / math.log(20) < 1.3


def test_two_thousand_unlike_jobs_have_a_small_gap(tmp_path: Path) -> None:
    question = open_inputs(str(kit_file(tmp_path, 2_000, 1)), "well-equipped", "hobbyist")
    found = Session().assess(question)
    how = found.order.made
    assert isinstance(how, Search)
    assert found.order.gap < 0.2 or how.saved
    assert not how.stopped


def test_a_large_kit_can_be_stopped_within_a_second_at_any_moment(tmp_path: Path) -> None:
    """Processor time between two looks at whether the answer is still wanted."""
    question = open_inputs(str(kit_file(tmp_path, 10_000, 25)), "well-equipped", "hobbyist")
    assert question.jobs
    looks = [(time.process_time(), 0.0)]

    def told(share: float, _: str) -> None:
        looks.append((time.process_time(), share))

    def cancelled() -> bool:
        looks.append((time.process_time(), looks[-1][1]))
        return False

    Session().assess(question, run=Run(told, cancelled))
    gaps = [(then - first, share) for (first, share), (then, _) in pairwise(looks)]
    print("longest:", *(f"{gap:.2f} s at {share:.2f}" for gap, share in sorted(gaps)[-6:]))
    shares = [share for _, share in looks]
    assert shares == sorted(shares)
    assert max(gaps)[0] < 1.0


def test_a_stopped_kit_is_given_up(tmp_path: Path) -> None:
    question = open_inputs(str(kit_file(tmp_path, 300, 25)), "well-equipped", "hobbyist")
    asked: list[int] = []
    with pytest.raises(Stopped):
        Session().assess(question, run=Run(None, lambda: len(asked) > 9 or bool(asked.append(1))))
