"""What several tests of drafting share."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.files import settings

HEAD = "Reference,Value,Footprint\n"


@pytest.fixture
def bill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two parts that are asked about, with settings turned on."""
    monkeypatch.delenv(settings.OFF)
    path = tmp_path / "bill.csv"
    path.write_text(f"{HEAD}U7,mystery,\nJ8,riddle,\n", encoding="utf-8")
    return path
