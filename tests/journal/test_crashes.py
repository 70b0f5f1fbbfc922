"""Whatever happens to the machine: what was told as recorded is there afterwards.

``SOLDERRISK_CRASHES=full`` runs 200 kills and every byte of the log's tail, else a sample of
both; the counts are printed (``-s``).
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import struct
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from solderrisk.journal.exchange import opened, readable
from solderrisk.journal.place import JournalProblem, JournalUnwritable
from solderrisk.journal.store import Entry, Journal, Stored

HERE = Path(__file__).parent
FULL = os.environ.get("SOLDERRISK_CRASHES") == "full"
KILLS = 200 if FULL else 8
CUT_EVERY = 1 if FULL else 401
REPLAY_EVERY = 1 if FULL else 3


def _writer(path: Path, most: int, together: int = 1, **env: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, str(HERE / "writer.py"), str(path), str(most), str(together)],
        env={**os.environ, "PYTHONPATH": str(HERE.parents[1]), **env},
    )


def _told(path: Path) -> list[int]:
    """Numbers told as recorded; the last line may be half-written."""
    lines = path.read_text().split("\n")[:-1] if path.exists() else []
    return [int(number) for line in lines for number in line.split()]


def _note(text: str) -> Entry:
    return Entry("b" * 16, "note", {"text": text, "key": None}, "ada", "ada")


def _numbers(events: list[Stored]) -> list[int]:
    return [event.number for event in events]


def test_killed_at_random_moments_while_recording(tmp_path: Path) -> None:
    rng = random.Random(16)
    path, kept = tmp_path / "journal.sqlite", 0
    told = tmp_path / "journal.sqlite-told"
    for _ in range(KILLS):
        before = len(_told(told))
        process = _writer(path, 1_000_000, rng.choice((1, 12)))
        deadline = time.monotonic() + 20
        while len(_told(told)) <= before and time.monotonic() < deadline:
            time.sleep(0.002)
        time.sleep(rng.uniform(0, 0.05))
        process.send_signal(signal.SIGKILL)
        process.wait()
        with Journal(path) as journal:
            journal.check()
            events = journal.events()
            numbers = _numbers(events)
            goes = Counter(event.batch for event in events)
        acknowledged = _told(told)
        assert len(acknowledged) > before, "the writer never got to write"
        assert set(acknowledged) <= set(numbers)
        # Nothing half: numbers run on without a gap, goes of twelve are whole.
        assert set(goes.values()) <= {1, 12}
        assert numbers == list(range(1, len(numbers) + 1))
        kept = len(acknowledged)
    print(f"{KILLS} kills, {kept} events told as recorded, none lost")


def test_the_log_cut_at_every_byte_of_its_tail(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = Journal(path)
    for n in range(5):
        journal.append([_note(f"early {n}")])
    whole = (tmp_path / "journal.sqlite-wal").stat().st_size
    journal.append([_note("late 1"), _note("late 2")])
    copy = tmp_path / "cut"
    copy.mkdir()
    shutil.copy(path, copy / "journal.sqlite")
    log = (tmp_path / "journal.sqlite-wal").read_bytes()
    journal.close()
    assert len(log) > whole
    cuts = 0
    for size in [*range(whole, len(log), CUT_EVERY), len(log) - 1, len(log)]:
        for stale in copy.glob("journal.sqlite-*"):
            stale.unlink()
        shutil.copy(copy / "journal.sqlite", copy / "try.sqlite")
        (copy / "try.sqlite-wal").write_bytes(log[:size])
        with Journal(copy / "try.sqlite") as again:
            texts = [event.body["text"] for event in again.events()]
        assert texts[:5] == [f"early {n}" for n in range(5)], size
        # A go of several is there as a whole or not at all.
        assert texts[5:] in ([], ["late 1", "late 2"]), size
        cuts += 1
    print(f"cut at {cuts} places, every earlier event there each time")


# --- a disk that forgets what was not synced ---

HEAD = struct.Struct("<4q")


def _trace(file: Path) -> list[tuple[str, str, int, bytes]]:
    data, at, found = file.read_bytes(), 0, []
    while at < len(data):
        op, path_size, offset, size = HEAD.unpack_from(data, at)
        at += HEAD.size
        path = data[at : at + path_size].decode()
        at += path_size
        body = data[at : at + size] if chr(op) == "w" else b""
        at += len(body)
        found.append((chr(op), path, offset, body))
    return found


def _apply(image: bytearray, op: str, offset: int, body: bytes) -> None:
    if op == "t":
        del image[offset:]
        image.extend(b"\0" * (offset - len(image)))
    else:
        image.extend(b"\0" * (offset + len(body) - len(image)))
        image[offset : offset + len(body)] = body


@pytest.fixture(scope="module")
def shim(tmp_path_factory: pytest.TempPathFactory) -> Path:
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or sys.platform != "linux":
        pytest.skip("needs Linux and a C compiler")
    made = tmp_path_factory.mktemp("shim") / "trace.so"
    source = str(HERE / "trace_shim.c")
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-w", "-o", str(made), source, "-ldl"], check=True
    )
    return made


@pytest.mark.parametrize("survivors", [0.0, 0.5], ids=["all unsynced lost", "half of it lost"])
def test_a_disk_that_drops_what_was_not_synced(
    tmp_path: Path, shim: Path, survivors: float
) -> None:
    path, log = tmp_path / "journal.sqlite", tmp_path / "trace.bin"
    assert _writer(path, 25, 1, LD_PRELOAD=str(shim), TRACE_TO=str(log)).wait() == 0
    trace = _trace(log)
    assert any(op == "s" for op, *_ in trace)
    assert any(name.endswith("-wal") and op == "w" for op, name, *_ in trace)
    rng = random.Random(5)
    durable: dict[str, bytearray] = {}
    pending: dict[str, list[tuple[str, int, bytes]]] = {}
    told: list[int] = []
    checked = 0
    for number, (op, name, offset, body) in enumerate(trace):
        tail = name.removeprefix(str(path))
        if tail == "-told":
            told.extend(int(word) for word in body.split())
            continue
        if op == "s":
            image = durable.setdefault(tail, bytearray())
            for write in pending.pop(tail, []):
                _apply(image, *write)
        elif op == "u":
            durable.pop(tail, None)
            pending.pop(tail, None)
        else:
            pending.setdefault(tail, []).append((op, offset, body))
        if told and (FULL or number % REPLAY_EVERY == 0):
            _survives(tmp_path / "crash", durable, pending, told, survivors, rng)
            checked += 1
    assert len(told) == 25
    print(f"{checked} moments replayed, {len(told)} events told, none lost")


def _survives(
    folder: Path,
    durable: dict[str, bytearray],
    pending: dict[str, list[tuple[str, int, bytes]]],
    told: list[int],
    survivors: float,
    rng: random.Random,
) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for tail in ("", "-wal"):
        image = bytearray(durable.get(tail, b""))
        for write in pending.get(tail, []):
            if rng.random() < survivors:
                _apply(image, *write)
        if image:
            (folder / f"journal.sqlite{tail}").write_bytes(image)
    with Journal(folder / "journal.sqlite") as journal:
        journal.check()
        assert set(told) <= set(_numbers(journal.events()))


# --- places that do not take it ---


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "disk"
    folder.mkdir()
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("needs root on Linux to mount a small file system")
    mount = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("mounting is not allowed here")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=False)


def test_a_full_disk_is_told_and_nothing_is_lost(small_disk: Path) -> None:
    path, told = small_disk / "journal.sqlite", []
    with Journal(path) as journal:

        def fill() -> None:
            for n in range(10_000):
                told.extend(_numbers(journal.append([_note(f"{n} " + "y" * 300)] * 3)))

        with pytest.raises(JournalProblem, match="disk is full; nothing of this was recorded"):
            fill()
        assert _numbers(journal.events()) == told
    with readable(path) as journal:
        assert _numbers(journal.events()) == told
    (small_disk / "other").unlink(missing_ok=True)
    subprocess.run(["mount", "-o", "remount,size=4m", str(small_disk)], check=True)
    with Journal(path) as journal:
        told.extend(_numbers(journal.append([_note("space again")])))
        assert _numbers(journal.events()) == told
    print(f"{len(told)} events before the disk was full, all there")


def test_a_read_only_folder_is_told_and_can_still_be_read(small_disk: Path) -> None:
    path = small_disk / "journal.sqlite"
    journal = Journal(path)
    told = _numbers(journal.append([_note("one")]))
    # Left without closing: the log still holds the event.
    shutil.copytree(small_disk, small_disk / "left")
    journal.close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    left = small_disk / "left" / "journal.sqlite"
    with pytest.raises(JournalUnwritable, match="may not be written; nothing was recorded"):
        Journal(left).append([_note("two")])
    with readable(left) as copy:
        assert _numbers(copy.events()) == told


def test_a_damaged_file_is_kept_aside_and_what_can_be_read_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    with Journal(path) as journal:
        for n in range(30):
            journal.append([_note(f"{n} " + "z" * 200)] * 10)
        own = journal.id
    raw = bytearray(path.read_bytes())
    middle = len(raw) // 2 // 4096 * 4096
    raw[middle : middle + 4096] = os.urandom(4096)
    path.write_bytes(raw)
    journal, rescued = opened(path)
    with journal:
        assert rescued is not None
        assert Path(rescued.aside).read_bytes() == bytes(raw)
        events = journal.events()
        assert rescued.events == len(events) >= 250
        assert journal.id == own
        # Numbers that could not be read are not given again.
        assert journal.append([_note("later")])[0].number > 300
    with opened(path)[0] as again:
        assert len(again.events()) == len(events) + 1
    print(f"{len(events)} of 300 events read from a file with a page overwritten")


@pytest.mark.parametrize(
    "content", [b"not a database" * 300, b"SQLite format 3\0" * 9], ids=["text", "header only"]
)
def test_a_file_that_is_no_database_is_kept_aside(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "journal.sqlite"
    path.write_bytes(content)
    journal, rescued = opened(path)
    with journal:
        assert rescued is not None
        assert rescued.events == 0
        assert Path(rescued.aside).read_bytes() == content
        journal.append([_note("goes on")])


def test_two_programs_at_once_both_record_everything(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    processes = [_writer(path, 60), _writer(path, 60, 3)]
    assert [process.wait() for process in processes] == [0, 0]
    told = _told(tmp_path / "journal.sqlite-told")
    with Journal(path) as journal:
        numbers = _numbers(journal.events())
    assert sorted(told) == numbers == list(range(1, 60 + 180 + 1))


def test_a_writer_that_holds_the_journal_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("solderrisk.journal.store.BUSY_S", 0.05)
    with Journal(tmp_path / "j.sqlite") as one, Journal(tmp_path / "j.sqlite") as other:
        one._connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalProblem, match="another program is writing this journal"):
            other.append([_note("now")])
        one._connection.execute("ROLLBACK")
        assert _numbers(other.append([_note("now")])) == [1]
