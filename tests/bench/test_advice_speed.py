"""Processor time and memory of advice, against an assessment of the same; and of a what-if for
every single purchase of the demo kits."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.plan_data import brings_something, with_tools
from solderrisk.session import Session

ADVICE_ALLOWED = 2.0  # times an assessment
MEMORY_MB = 600
AGAIN_S, FIRST_S = 0.1, 0.2
ROUNDS = 3


def spent(command: str, kit: str) -> tuple[float, float]:
    """Processor time in s and peak memory in MB of a command, the least of some rounds."""
    code = (
        "import resource, sys; from solderrisk.__main__ import main\n"
        f"sys.argv = ['solderrisk', {command!r}, {kit!r}, '--bench', 'bare', "
        "'--builder', 'newcomer']\n"
        "main()\n"
        "used = resource.getrusage(resource.RUSAGE_SELF)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, file=sys.stderr)\n"
    )
    found = []
    for _ in range(ROUNDS):
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        seconds, memory = done.stderr.split()[-2:]
        found.append((float(seconds), float(memory)))
    return min(seconds for seconds, _ in found), min(memory for _, memory in found)


@pytest.mark.parametrize("kit", ["rain-counter", "river-recorder", "water-lamp"])
def test_advice_takes_a_few_assessments(kit: str) -> None:
    assess_s, _ = spent("assess", kit)
    advise_s, memory_mb = spent("advise", kit)
    print(f"{kit}: assess {assess_s:.1f} s, advise {advise_s:.1f} s, {memory_mb:.0f} MB")
    assert advise_s <= ADVICE_ALLOWED * assess_s
    assert memory_mb <= MEMORY_MB


@pytest.mark.parametrize("bench", ["bare", "decent"])
@pytest.mark.parametrize("kit", ["rain-counter", "river-recorder", "water-lamp"])
def test_what_if_of_one_purchase(kit: str, bench: str) -> None:
    """Median over the tools: the first time each is tried, and again."""
    question, session = open_inputs(kit, bench, "newcomer"), Session()
    order = session.assess(question).order
    first, again = [], []
    for times in (first, again):
        for tool in question.reference.plan.tools:
            if brings_something(question.bench, tool):
                asked = question.but(bench=with_tools(question.bench, [tool]))
                start = time.process_time()
                session.assess(asked, order=order)
                times.append(time.process_time() - start)
    told = [1000 * statistics.median(times) for times in (first, again)]
    print(f"{kit}, {bench}: {told[0]:.0f} ms, again {told[1]:.0f} ms")
    assert told[0] <= 1000 * FIRST_S
    assert told[1] <= 1000 * AGAIN_S
