from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from solderrisk.files.text import MAX_BYTES, FileProblems, decode_text, read_text


def refused(path: Path) -> str:
    with pytest.raises(FileProblems) as caught:
        read_text(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    return str(problem).removeprefix(str(path))


def test_reads_utf8_with_and_without_mark(tmp_path: Path) -> None:
    for data in ("Ω: 1\r\n".encode(), "\ufeffΩ: 1\r\n".encode()):
        (tmp_path / "f").write_bytes(data)
        assert read_text(tmp_path / "f") == "Ω: 1\r\n"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"a: 1\nb: \xe9\n", ":2:4: not UTF-8 text; save the file as UTF-8"),
        ("name: x".encode("utf-16"), ":1:1: not UTF-8 text; save the file as UTF-8"),
        (
            b"a: 1\nb\x00: 2",
            ":2:2: character U+0000 does not belong in a text file; remove it",
        ),
        (
            b"\xef\xbb\xbfa\x1b[2J",
            ":1:2: character U+001B does not belong in a text file; remove it",
        ),
        (b"#" * (MAX_BYTES + 1), ": larger than 2 MB; split the file"),
        (b"- a\n" * 2_500_000, ": larger than 2 MB; split the file"),
    ],
    ids=["latin-1", "utf-16", "nul", "escape", "large", "10 MB"],
)
def test_what_is_no_text(tmp_path: Path, data: bytes, message: str) -> None:
    (tmp_path / "kit.yaml").write_bytes(data)
    assert refused(tmp_path / "kit.yaml") == message


def test_what_is_no_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert refused(tmp_path) == ": this is a folder; name a file in it"
    assert refused(tmp_path / "none.yaml") == ": no such file; check the path"
    assert refused(tmp_path / "file" / "kit.yaml").endswith("; check the path")
    assert refused(tmp_path / ("x" * 300)).endswith("; check the path")
    with pytest.raises(FileProblems, match="cannot be read"):
        read_text(Path("a\0b"))


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no devices on this system")
@pytest.mark.parametrize("device", ["/dev/zero", "/dev/full", "/dev/tty"])
def test_a_device_is_refused_at_once(device: str) -> None:
    told = refused(Path(device))
    assert "device" in told or "cannot be read" in told  # no terminal here: its own reason


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_that_nobody_writes_to_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path / "pipe").startswith(": an empty pipe, or one that nobody writes to")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_with_a_slow_writer_is_read_to_its_end(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = subprocess.Popen(
        [sys.executable, "-c", "import sys,time;p=open(sys.argv[1],'w');print('up',flush=True)\n"
         "time.sleep(.2);p.write('a'*200000);p.flush();time.sleep(.2);p.write('b')", str(pipe)],
        stdout=subprocess.PIPE,
    )  # fmt: skip
    hold = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)  # lets the writer open its end
    assert writer.stdout is not None
    writer.stdout.readline()
    text = read_text(pipe)
    os.close(hold)
    writer.wait()
    assert text == "a" * 200000 + "b"


def test_a_devices_bytes_are_taken_where_it_is_standard_input() -> None:
    code = "from pathlib import Path; from solderrisk.files.text import read_text as r;"
    done = subprocess.run(
        [sys.executable, "-c", f"{code} print(repr(r(Path('/dev/stdin'))))"],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stderr == "" or "empty" in done.stderr


def test_an_unreadable_file_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_: object) -> None:
        raise PermissionError("no")

    monkeypatch.setattr(os, "open", locked)
    assert refused(tmp_path / "kit.yaml") == ": cannot be read; check its permissions"


def test_problems_stay_on_one_line() -> None:
    with pytest.raises(FileProblems) as caught:
        decode_text(b"\xff", "bad\nname\x1b.yaml")
    assert str(caught.value) == r"bad\nname\x1b.yaml:1:1: not UTF-8 text; save the file as UTF-8"
