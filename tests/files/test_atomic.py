from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from solderrisk.files import text as atomic
from solderrisk.files.text import FileProblems, write_new


def test_writes_utf8_and_leaves_nothing_beside(tmp_path: Path) -> None:
    write_new(tmp_path / "kit.yaml", "title: Ω µm\n")
    assert (tmp_path / "kit.yaml").read_bytes() == "title: Ω µm\n".encode()
    assert [p.name for p in tmp_path.iterdir()] == ["kit.yaml"]


def test_an_existing_file_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "kit.yaml"
    path.write_text("mine")
    with pytest.raises(FileProblems, match=r"kit\.yaml: exists already; name another file"):
        write_new(path, "yours")
    assert path.read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("links", [True, False])
def test_a_file_made_in_the_meantime_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    path = tmp_path / "kit.yaml"
    write = atomic._write_through

    def slow(draft: Path, data: bytes) -> None:
        write(draft, data)
        path.write_text("mine")

    def no_link(*_: object) -> None:
        raise OSError("no hard links here")

    monkeypatch.setattr(atomic, "_write_through", slow)
    if not links:
        monkeypatch.setattr(os, "link", no_link)
    with pytest.raises(FileProblems, match="exists already"):
        write_new(path, "yours")
    assert path.read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_hard_links_it_still_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_link(*_: object) -> None:
        raise OSError("no hard links here")

    monkeypatch.setattr(os, "link", no_link)
    write_new(tmp_path / "a", "text")
    assert [(p.name, p.read_text()) for p in tmp_path.iterdir()] == [("a", "text")]


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("missing/kit.yaml", "its folder does not exist"),
        ("file/kit.yaml", "its folder is a file"),
        (".", "exists already"),
        ("a\0b", "cannot be written"),
        ("x" * 300, "cannot be written"),
    ],
)
def test_bad_targets_are_told(tmp_path: Path, path: str, message: str) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FileProblems, match=message):
        write_new(tmp_path / path, "text")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_killed_at_any_moment_leaves_no_half_written_file(tmp_path: Path) -> None:
    script = (
        "import sys\nfrom pathlib import Path\nfrom solderrisk.files.text import write_new\n"
        "print('ready', flush=True)\n"
        "for n in range(10000): write_new(Path(sys.argv[1]) / f'{n}.txt', 'x' * 300_000)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path)], stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(0.15)
        process.send_signal(signal.SIGKILL)
    written = [p for p in tmp_path.iterdir() if p.suffix == ".txt"]
    assert written
    assert {p.stat().st_size for p in written} == {300_000}
