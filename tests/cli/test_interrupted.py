"""A report is there whole or not at all, whenever the program is stopped."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from solderrisk.cli import run

WHO = ["--bench", "bare", "--builder", "newcomer"]

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def in_child(prepare: Callable[[], None], argv: list[str]) -> int:
    """Run a command in a child process after ``prepare``; gives its wait status."""
    child = os.fork()
    if child == 0:
        status = 99
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            prepare()
            status = run(argv)
        finally:
            os._exit(status)
    return os.waitpid(child, 0)[1]


def report(kind: str, out: Path) -> list[str]:
    return ["report", "water-lamp", *WHO, f"--{kind}", str(out)]


def test_killed_at_every_step_of_writing(tmp_path: Path) -> None:
    """The n-th touch of the folder is the last one, for every n there is."""
    whole = tmp_path / "whole.txt"
    assert run(report("text", whole)) == 0
    stops = 0
    for nth in range(1, 20):
        folder = tmp_path / str(nth)
        folder.mkdir()

        def kill_at(nth: int = nth, folder: Path = folder) -> None:
            touched = 0

            def hook(event: str, args: tuple[object, ...]) -> None:
                nonlocal touched
                names = (os.fsdecode(a) for a in args if isinstance(a, str | bytes | os.PathLike))
                if event.startswith(("open", "os.")) and any(str(folder) in n for n in names):
                    touched += 1
                    if touched == nth:
                        os.kill(os.getpid(), signal.SIGKILL)

            sys.addaudithook(hook)

        status = in_child(kill_at, report("text", folder / "out.txt"))
        out = folder / "out.txt"
        assert not out.exists() or out.read_bytes() == whole.read_bytes()
        if os.WIFEXITED(status):
            assert os.WEXITSTATUS(status) == 0
            assert [p.name for p in folder.iterdir()] == ["out.txt"]
            break
        stops += 1
        assert os.WTERMSIG(status) == signal.SIGKILL
    assert stops >= 3
    assert os.WIFEXITED(status)


@pytest.mark.parametrize("killed", [True, False], ids=["killed", "told"])
def test_stopped_in_the_middle_of_the_bytes(tmp_path: Path, killed: bool) -> None:
    """A limit on the size of files stops the write half-way, as a full disk would."""
    resource = pytest.importorskip("resource")

    def limit() -> None:
        # Python ignores this signal; by default it ends a process as kill does.
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL if killed else signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    status = in_child(limit, report("html", tmp_path / "out.html"))
    assert not (tmp_path / "out.html").exists()
    if killed:
        assert os.WTERMSIG(status) == signal.SIGXFSZ
        assert all(p.name.endswith(".part") for p in tmp_path.iterdir())
    else:
        assert os.WEXITSTATUS(status) == 2
        assert list(tmp_path.iterdir()) == []
