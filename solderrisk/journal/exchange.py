"""Journals as JSON Lines, in and out, and what can be saved of a damaged file."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from solderrisk.journal.events import check_kept, checked
from solderrisk.journal.place import JournalDamaged, JournalProblem, JournalUnwritable, told
from solderrisk.journal.store import COLUMNS, RESCUE_GAP, Journal, Kept, Stored, canonical

MAX_FILE_BYTES = 256 * 2**20
MAX_LINE_BYTES = 16 * 2**20
MAX_EVENTS = 200_000
SHOWN_CLASHES = 5


class Imported(NamedTuple):
    """What an import brought: events and inputs that were new, events known before, and
    clashes: the same journal and number with another content, left out."""

    new: int
    known: int
    clashes: tuple[tuple[str, int], ...]


def exported(journal: Journal, build: str | None = None) -> Iterator[str]:
    """Lines of the whole journal or of one build: kept inputs first, then events."""
    events = journal.events(build)
    used = {hash_ for event in events for hash_ in event.body.get("kept", {}).values()}
    for kept in journal.kept_items():
        if build is None or kept.hash in used:
            yield canonical(kept._asdict())
    for event in events:
        yield canonical(event._asdict())


def imported(journal: Journal, path: str, *, leave_clashes: bool = False) -> Imported:
    """Unite a journal with an exported one, by journal id and number, all or nothing.

    Raises:
        JournalProblem: a line is wrong, there is too much of it, or events clash and
            ``leave_clashes`` is not set; nothing was written.
    """
    events, kept = _read(path)
    mine = {(event.journal, event.number): event for event in journal.events()}
    new = [event for event in events if (event.journal, event.number) not in mine]
    clashes = [
        (event.journal, event.number)
        for event in events
        if mine.get((event.journal, event.number), event) != event
    ]
    if clashes and not leave_clashes:
        shown = ", ".join(f"{name[:6]}/{number}" for name, number in clashes[:SHOWN_CLASHES])
        raise JournalProblem(
            f"{path}: {len(clashes)} events say something else than those of the same number in "
            f"this journal ({shown}); nothing was written: look at both with 'log --json', or "
            "add --leave-clashes to bring in the others"
        )
    _belong([*mine.values(), *new], {k.hash: k.text for k in (*journal.kept_items(), *kept)}, path)
    journal.adopt(new, kept)
    known = len(events) - len(new) - len(clashes)
    return Imported(len(new), known, tuple(clashes))


def _read(path: str) -> tuple[list[Stored], list[Kept]]:
    events: dict[tuple[str, int], Stored] = {}
    kept: list[Kept] = []
    for number, data in _lines(path):
        place = f"{path}:{number}"
        try:
            if set(data) == {"hash", "what", "text"}:
                kept.append(_kept(data))
                continue
            event = checked(data)
        except JournalProblem as problem:
            raise JournalProblem(f"{place}: {problem}; nothing was written") from None
        if events.setdefault((event.journal, event.number), event) != event:
            raise JournalProblem(
                f"{place}: number {event.number} stands in this file with another content; "
                "keep one of the two"
            )
        if len(events) > MAX_EVENTS:
            raise JournalProblem(f"{place}: more than {MAX_EVENTS:,} events; split the file")
    return list(events.values()), kept


def _lines(path: str) -> Iterator[tuple[int, dict[str, Any]]]:
    with told(path), open(path, "rb") as file:
        if not os.path.isfile(path):
            raise JournalProblem(f"{path}: is no plain file")
        if os.fstat(file.fileno()).st_size > MAX_FILE_BYTES:
            raise JournalProblem(f"{path}: over {MAX_FILE_BYTES >> 20} MB; split the file")
        number = 0
        while line := file.readline(MAX_LINE_BYTES + 1):
            number += 1
            if len(line) > MAX_LINE_BYTES:
                raise JournalProblem(f"{path}:{number}: over {MAX_LINE_BYTES >> 20} MB in a line")
            if line.strip():
                yield number, _object(line, f"{path}:{number}")


def _object(line: bytes, place: str) -> dict[str, Any]:
    try:
        data = json.loads(line, parse_constant=_no_number, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise JournalProblem(
            f"{place}: is no line of an exported journal ({str(error)[:80]}); nothing was written"
        ) from None
    if not isinstance(data, dict):
        raise JournalProblem(f"{place}: expected an object; nothing was written")
    return data


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _kept(data: dict[str, Any]) -> Kept:
    import hashlib

    if not all(isinstance(value, str) for value in data.values()):
        raise JournalProblem("kept inputs: hash, what and text are texts")
    item = Kept(**data)
    if hashlib.sha256(f"{item.what}\n{item.text}".encode()).hexdigest() != item.hash:
        raise JournalProblem(f"kept inputs {item.hash[:12]}: the text does not have this hash")
    check_kept(item.what, item.text)
    return item


def _belong(events: Iterable[Stored], texts: dict[str, str], path: str) -> None:
    """Every event of a build lies in the journal of its start and names its jobs."""
    keys: dict[str, set[str]] = {}
    homes: dict[str, str] = {}
    events = sorted(events, key=lambda event: (event.journal, event.number))
    for event in events:
        if event.kind in ("started", "replanned"):
            if event.kind == "started":
                homes.setdefault(event.build, event.journal)
            keys.setdefault(event.build, set()).update(_job_keys(event, texts, path))
    for event in events:
        if not event.build:
            continue
        place = f"{path}: event {event.journal[:6]}/{event.number}"
        if homes.get(event.build) != event.journal:
            raise JournalProblem(
                f"{place}: its build {event.build} was not started in this journal; nothing was "
                "written: export the journal that it was started in"
            )
        for key in (event.body.get("key"), *event.body.get("keys", ())):
            if key is not None and key not in keys[event.build]:
                raise JournalProblem(
                    f"{place}: the build has no job {ascii(key)[:60]}; nothing was written"
                )


def _job_keys(event: Stored, texts: dict[str, str], path: str) -> set[str]:
    text = texts.get(event.body["kept"]["jobs"])
    if text is None:
        raise JournalProblem(
            f"{path}: event {event.journal[:6]}/{event.number}: the inputs it refers to are "
            "missing; nothing was written: export the whole journal again"
        )
    try:
        return {job["key"] for job in json.loads(text)["jobs"]}
    except (ValueError, TypeError, KeyError):
        raise JournalProblem(f"{path}: kept jobs {event.number} cannot be read") from None


# --- damaged files ---


class Rescued(NamedTuple):
    """A damaged journal: where it lies now, and how many events could be carried over."""

    aside: str
    events: int


def opened(path: str | os.PathLike[str]) -> tuple[Journal, Rescued | None]:
    """A journal that is sound as a whole. A damaged one is kept aside; what can be read of
    it goes on in a new file under the same id.

    Raises:
        JournalProblem: it cannot be opened or written.
    """
    try:
        journal = Journal(path)
    except JournalDamaged:
        return _rescued(os.path.abspath(os.fspath(path)))
    try:
        journal.check()
        journal.events()
    except JournalDamaged:
        journal.close()
        return _rescued(os.path.abspath(os.fspath(path)))
    return journal, None


@contextlib.contextmanager
def readable(path: str | os.PathLike[str]) -> Iterator[Journal]:
    """A journal to look at, also where nothing may be written: then a copy is read.

    Raises:
        JournalProblem: it is not there, or cannot be read either.
    """
    path = os.path.abspath(os.fspath(path))
    if not os.path.exists(path):
        raise JournalProblem(f"{path}: there is no journal yet; start one with 'record KIT ...'")
    try:
        journal = Journal(path)
    except JournalUnwritable:
        with tempfile.TemporaryDirectory(prefix="solderrisk-") as folder, told(path):
            copy = os.path.join(folder, "journal.sqlite")
            for tail in ("", "-wal"):
                with contextlib.suppress(FileNotFoundError):
                    shutil.copyfile(path + tail, copy + tail)
            with Journal(copy) as journal:
                yield journal
        return
    with journal:
        yield journal


def _rescued(path: str) -> tuple[Journal, Rescued]:
    aside = _free_name(path)
    with told(path):
        for tail in ("", "-wal", "-shm"):
            with contextlib.suppress(FileNotFoundError):
                os.rename(path + tail, aside + tail)
    own, events, kept = _readable(aside)
    part = f"{path}.rescue.part"
    with told(path):
        for tail in ("", "-wal", "-shm"):
            with contextlib.suppress(FileNotFoundError):
                os.unlink(part + tail)
    with Journal(part) as fresh:
        fresh.adopt(events, kept)
        last = max((event.number for event in events if event.journal == own), default=0)
        fresh.continue_as(own or fresh.id, last + RESCUE_GAP)
    with told(path):
        os.rename(part, path)
    return Journal(path), Rescued(aside, len(events))


def _free_name(path: str) -> str:
    number = 1
    while os.path.exists(f"{path}.damaged-{number}"):
        number += 1
    return f"{path}.damaged-{number}"


def _readable(path: str) -> tuple[str | None, list[Stored], list[Kept]]:
    """Whatever can still be read: rows up to the first damage, from either end."""
    own: str | None = None
    events: dict[tuple[str, int], Stored] = {}
    kept: dict[str, Kept] = {}
    connection = sqlite3.connect(f"{Path(path).as_uri()}?mode=ro", uri=True)
    with contextlib.closing(connection):
        with contextlib.suppress(sqlite3.Error, TypeError):
            found = connection.execute("SELECT value FROM meta WHERE name = 'journal'").fetchone()
            own = str(found[0])
        for way in ("ASC", "DESC"):
            for row in _rows(connection, f"SELECT {COLUMNS} FROM events ORDER BY seq {way}"):
                with contextlib.suppress(JournalProblem, ValueError, TypeError):
                    event = checked({**_named(row), "body": json.loads(row[-1])})
                    events.setdefault((event.journal, event.number), event)
        for row in _rows(connection, "SELECT hash, what, text FROM kept"):
            with contextlib.suppress(JournalProblem, TypeError):
                item = _kept({"hash": row[0], "what": row[1], "text": row[2]})
                kept.setdefault(item.hash, item)
    ordered = sorted(events.values(), key=lambda event: (event.journal, event.number))
    return own, ordered, list(kept.values())


def _rows(connection: sqlite3.Connection, query: str) -> Iterator[Sequence[Any]]:
    with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
        yield from connection.execute(query)


def _named(row: Sequence[Any]) -> dict[str, Any]:
    return dict(zip(Stored._fields, row, strict=True))
