"""The journal's file: an append-only log of events in SQLite, safe at any moment.

Nothing is ever changed or deleted in it; what is shown is derived from the events. Recording
from the command line pays for this module's imports, so it keeps to light ones.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import time
from typing import TYPE_CHECKING, Any, NamedTuple

from solderrisk.journal.place import JournalProblem, told
from solderrisk.words import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

SCHEMA = 1
APPLICATION = 0x534A524E  # marks the file as a journal of this program
BUSY_S = 3.0
# Numbers left free after a rescue: what could not be read may have been exported before.
RESCUE_GAP = 10_000

TABLES = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE events (
  seq INTEGER PRIMARY KEY, journal TEXT NOT NULL, number INTEGER NOT NULL,
  batch INTEGER NOT NULL, build TEXT NOT NULL, kind TEXT NOT NULL, who TEXT NOT NULL,
  writer TEXT NOT NULL, program TEXT NOT NULL, at TEXT NOT NULL, boot TEXT NOT NULL,
  mono_s REAL NOT NULL, body TEXT NOT NULL, UNIQUE (journal, number)) STRICT;
CREATE INDEX events_of_build ON events (build, number);
CREATE INDEX starts ON events (seq) WHERE kind = 'started';
CREATE TABLE kept (hash TEXT PRIMARY KEY, what TEXT NOT NULL, text TEXT NOT NULL) STRICT;
CREATE TRIGGER no_change BEFORE UPDATE ON events
  BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER no_delete BEFORE DELETE ON events
  BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
"""
# Statements that lead from a schema to the next one.
MIGRATIONS: dict[int, str] = {}

COLUMNS = "journal, number, batch, build, kind, who, writer, program, at, boot, mono_s, body"


class Entry(NamedTuple):
    """An event to be written: what is known before it has a number."""

    build: str  # '' for what belongs to no build
    kind: str
    body: dict[str, Any]
    who: str
    writer: str


class Stored(NamedTuple):
    """An event as it stands in the journal. ``number`` runs per journal and alone gives the
    order; ``batch`` is the number of the first event written in the same go; ``mono_s`` is
    the monotonic clock of the machine's run ``boot``; ``at`` (UTC) is for people to read."""

    journal: str
    number: int
    batch: int
    build: str
    kind: str
    who: str
    writer: str
    program: str
    at: str
    boot: str
    mono_s: float
    body: dict[str, Any]


class Kept(NamedTuple):
    """A canonical text that events refer to by its hash."""

    hash: str
    what: str
    text: str


def new_id() -> str:
    return os.urandom(8).hex()


class Journal:
    """An open journal. Every ``append`` is on the disk when it returns.

    Raises:
        JournalProblem: it cannot be opened, written or read; the message says what to do.
    """

    def __init__(self, path: str | os.PathLike[str], *, clock: Any = time) -> None:
        self.path = os.path.abspath(os.fspath(path))
        self.clock = clock
        self.boot = _boot()
        self.warnings: list[str] = []
        with told(self.path):
            self._connection = _connected(self.path)
            try:
                self.id = self._prepared()
            except BaseException:
                self._connection.close()
                raise

    def close(self) -> None:
        self._connection.close()

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- writing ---

    def append(self, entries: Sequence[Entry], kept: Iterable[Kept] = ()) -> list[Stored]:
        """Write events in one transaction, all or none; they are on the disk on return.

        Raises:
            JournalProblem: nothing of it was written.
        """
        if not entries:
            return []
        at = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(self.clock.time()))
        mono_s = round(self.clock.monotonic(), 3)
        with told(self.path), self._transaction():
            self._connection.executemany(
                "INSERT OR IGNORE INTO kept (hash, what, text) VALUES (?, ?, ?)", list(kept)
            )
            first = self._last_number() + 1
            stored = [
                Stored(
                    self.id, number, first, entry.build, entry.kind, entry.who, entry.writer,
                    VERSION, at, self.boot, mono_s, entry.body,
                )
                for number, entry in enumerate(entries, first)
            ]  # fmt: skip
            self._insert(stored)
        return stored

    def adopt(self, events: Sequence[Stored], kept: Sequence[Kept]) -> None:
        """Write events of any journal as they are; numbers must be new.

        Raises:
            JournalProblem: nothing of it was written.
        """
        with told(self.path), self._transaction():
            self._connection.executemany(
                "INSERT OR IGNORE INTO kept (hash, what, text) VALUES (?, ?, ?)", kept
            )
            self._insert(events)

    def continue_as(self, journal: str, floor: int) -> None:
        """Go on under the id of a journal that was lost, with numbers above ``floor``."""
        with told(self.path), self._transaction():
            self._connection.executemany(
                "INSERT OR REPLACE INTO meta VALUES (?, ?)",
                [("journal", journal), ("floor", str(floor))],
            )
        self.id = journal

    def _insert(self, events: Sequence[Stored]) -> None:
        places = ", ".join("?" * len(Stored._fields))
        rows = [(*event[:-1], canonical(event.body)) for event in events]
        self._connection.executemany(f"INSERT INTO events ({COLUMNS}) VALUES ({places})", rows)

    def _last_number(self) -> int:
        found = self._one("SELECT MAX(number) FROM events WHERE journal = ?", self.id)
        floor = self._one("SELECT value FROM meta WHERE name = 'floor'")
        return max(found or 0, int(floor or 0))

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise

    # --- reading ---

    def events(self, build: str | None = None, kind: str | None = None) -> list[Stored]:
        """Events in the order they were written, of one build ('' for what belongs to none)
        or kind where asked."""
        asked = {"build": build, "kind": kind}
        where = [f"{name} = ?" for name, value in asked.items() if value is not None]
        values = [value for value in asked.values() if value is not None]
        text = f" WHERE {' AND '.join(where)}" if where else ""
        order = "seq" if build is None else "journal, number"
        with told(self.path):
            rows = self._connection.execute(
                f"SELECT {COLUMNS} FROM events{text} ORDER BY {order}", values
            ).fetchall()
        return [_stored(row) for row in rows]

    def builds(self) -> list[Stored]:
        """The events that started builds, the latest first."""
        return self.events(kind="started")[::-1]

    def kept(self, hash_: str) -> str:
        """A kept text by its hash.

        Raises:
            JournalProblem: it is not there.
        """
        with told(self.path):
            found = self._one("SELECT text FROM kept WHERE hash = ?", hash_)
        if found is None:
            raise JournalProblem(
                f"{self.path}: inputs {hash_[:12]} are not in this journal; import the journal "
                "that the build was started in"
            )
        return str(found)

    def kept_items(self) -> list[Kept]:
        with told(self.path):
            rows = self._connection.execute("SELECT hash, what, text FROM kept ORDER BY hash")
            return [Kept(*row) for row in rows.fetchall()]

    def next_edition(self) -> tuple[str, int]:
        """The random id of this journal's shares, which no export shows, and the number of
        the next one."""
        with told(self.path), self._transaction():
            found = self._one("SELECT value FROM meta WHERE name = 'share'")
            name, edition = str(found).split() if found else (new_id(), "0")
            self._connection.execute(
                "INSERT OR REPLACE INTO meta VALUES ('share', ?)", [f"{name} {int(edition) + 1}"]
            )
        return name, int(edition) + 1

    def share_id(self) -> str | None:
        with told(self.path):
            found = self._one("SELECT value FROM meta WHERE name = 'share'")
        return str(found).split()[0] if found else None

    def check(self) -> None:
        """Read the whole file.

        Raises:
            JournalDamaged: it is not sound.
        """
        with told(self.path):
            found = self._one("PRAGMA quick_check(1)")
            if found != "ok":
                raise sqlite3.DatabaseError(f"malformed: {found}")

    def _one(self, statement: str, *values: object) -> Any:
        row = self._connection.execute(statement, values).fetchone()
        return row[0] if row else None

    # --- opening ---

    def _prepared(self) -> str:
        """The journal's id, once its tables are there and up to date."""
        if not self._one("SELECT COUNT(*) FROM sqlite_master"):
            self._created()
        schema = self._one("PRAGMA user_version")
        if self._one("PRAGMA application_id") != APPLICATION:
            raise JournalProblem(
                f"{self.path}: is a database, but no journal of this program; name another file"
            )
        if schema > SCHEMA:
            raise JournalProblem(
                f"{self.path}: was written by a newer version (schema {schema}, this one knows "
                f"up to {SCHEMA}): update the program; nothing was written"
            )
        if schema < SCHEMA:
            self._migrated(schema)
        return str(self._one("SELECT value FROM meta WHERE name = 'journal'"))

    def _created(self) -> None:
        with self._transaction():
            if self._one("PRAGMA user_version") != 0:
                return  # another program was first
            for statement in _statements(TABLES):
                self._connection.execute(statement)
            self._connection.execute("INSERT INTO meta VALUES ('journal', ?)", [new_id()])
            self._connection.execute(f"PRAGMA application_id = {APPLICATION}")
            self._connection.execute(f"PRAGMA user_version = {SCHEMA}")

    def _migrated(self, schema: int) -> None:
        backup = f"{self.path}.schema-{schema}.backup"
        if not os.path.exists(backup):
            copy = sqlite3.connect(f"{backup}.part")
            with contextlib.closing(copy):
                self._connection.backup(copy)
            os.replace(f"{backup}.part", backup)
        with self._transaction():
            for step in range(self._one("PRAGMA user_version"), SCHEMA):
                for statement in _statements(MIGRATIONS[step]):
                    self._connection.execute(statement)
                self._connection.execute(f"PRAGMA user_version = {step + 1}")
        self.warnings.append(f"the journal was brought up to date; before that: {backup}")


def _statements(script: str) -> Iterator[str]:
    """Single statements: ``executescript`` would end the transaction they belong to."""
    held = ""
    for piece in script.split(";"):
        held += piece + ";"
        if sqlite3.complete_statement(held):
            if held.strip("; \n"):
                yield held
            held = ""


def _connected(path: str) -> sqlite3.Connection:
    if os.path.isdir(path):
        raise JournalProblem(f"{path}: is a folder; name a file, like journal.sqlite")
    os.makedirs(os.path.dirname(path), mode=0o700, exist_ok=True)
    connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA trusted_schema = OFF")
        _use_log(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _use_log(connection: sqlite3.Connection) -> None:
    """Write-ahead logging; SQLite does not wait by itself where another program starts it."""
    deadline = time.monotonic() + BUSY_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL").fetchone()
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(0.02)


def _stored(row: tuple[Any, ...]) -> Stored:
    return Stored._make((*row[:-1], json.loads(row[-1])))


def canonical(value: object) -> str:
    """One text for one value: keys sorted, no spaces, no NaN."""
    return json.dumps(
        value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def kept_text(what: str, value: object) -> Kept:
    """A value as a kept text, by a hash over what it says."""
    import hashlib

    text = canonical(value)
    return Kept(hashlib.sha256(f"{what}\n{text}".encode()).hexdigest(), what, text)


def _boot() -> str:
    """Names the run of the machine within which its monotonic clock can be compared."""
    try:
        with open("/proc/sys/kernel/random/boot_id", encoding="ascii") as file:
            return file.read(36)
    except OSError:
        return f"process-{os.getpid()}-{os.urandom(4).hex()}"
