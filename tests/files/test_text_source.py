from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.files.errors import FileProblems
from solderrisk.files.text_source import MAX_BYTES, decode_text, read_text


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


def test_a_file_that_never_ends_is_cut_off() -> None:
    endless = Path("/dev/zero")
    if not endless.exists():
        pytest.skip("no endless file on this system")
    assert refused(endless) == ": larger than 2 MB; split the file"


def test_an_unreadable_file_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_: object) -> None:
        raise PermissionError("no")

    monkeypatch.setattr(Path, "open", locked)
    assert refused(tmp_path / "kit.yaml") == ": cannot be read; check its permissions"


def test_problems_stay_on_one_line() -> None:
    with pytest.raises(FileProblems) as caught:
        decode_text(b"\xff", "bad\nname\x1b.yaml")
    assert str(caught.value) == r"bad\nname\x1b.yaml:1:1: not UTF-8 text; save the file as UTF-8"
