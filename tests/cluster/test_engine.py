"""A cluster engine spreads a survey: two workers, one of which is killed.

Outside the default run: ``pip install 'solderrisk[cluster]'``, then
``python -m pytest tests/cluster``.
"""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import pytest

from solderrisk.files.loading import DEMO_FOLDERS
from solderrisk.survey import answer, questions

distributed = pytest.importorskip("distributed")


def test_answers_come_though_a_worker_is_killed(tmp_path: Path) -> None:
    text = (DEMO_FOLDERS["kit"] / "water-lamp.yaml").read_text("utf-8")
    kits = [tmp_path / f"kit{n}.yaml" for n in range(8)]
    for n, kit in enumerate(kits):
        kit.write_text(text.replace("length_mm: 70", f"length_mm: {60 + n}"), "utf-8")
    asked = questions([str(kit) for kit in kits], ["bare", "decent"], ["few", "regular"])
    lines = [json.dumps(row) for group in asked for row in group]
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        client.wait_for_workers(2)
        pids = list(client.run(os.getpid).values())
        assert len(set(pids)) == 2
        waiting = client.map(answer, lines)
        distributed.wait(waiting[:3])
        os.kill(pids[0], signal.SIGKILL)
        found = client.gather(waiting)
        seen = set(client.run(os.getpid).values())
    assert pids[0] not in seen
    assert found == [answer(line) for line in lines]
