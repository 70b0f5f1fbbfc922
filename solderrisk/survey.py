"""Many kits: a whole shelf assessed for many builders and benches.

The unit of work is ``answer``: a line of JSON in, a line of JSON out, nothing kept that would
change it. ``survey`` spreads it over processes here; ``worker`` lets anything that can write and
read lines spread it elsewhere.
"""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TextIO

from solderrisk.files.loading import (
    Kind,
    input_path,
    load_bench,
    load_builder,
    load_kit,
    load_library,
)
from solderrisk.files.reference import load_reference
from solderrisk.files.text import FileProblems, Problem, write_new
from solderrisk.model.bench import LEVELS, Bench, Builder
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import SEED, Question, Run
from solderrisk.plan.verdict import verdict
from solderrisk.risk.engine import RiskEngine
from solderrisk.words import as_text

KNOWN = ("kit", "bench", "builder", "library", "target", "seed")
WAITING = 3  # pieces of work given out in advance for each process
DECISIVE = 3
MOST_BYTES = 20_000_000
LOST = "the process that worked on it ended twice; try it alone"
COLUMNS = (
    "kit", "bench", "builder", "target", "answer", "chance_low", "chance", "chance_high",
    "first_time", "hours", "ruined", "decided_by", "cannot_be_done", "problem",
)  # fmt: skip


Row = dict[str, Any]


# --- one piece of work ---


def answer(line: str) -> str:
    """The answer to one question, both as one line of JSON; what is wrong with the question or
    with its files is an answer too."""
    asked: object = None
    try:
        asked = json.loads(line)
        return _line(_answered(_checked(asked)))
    except FileProblems as error:
        problem = "; ".join(str(each) for each in error.problems[:3])
    except UserProblem as error:
        problem = str(error)
    except ValueError as error:
        problem = f"no question: {error}"
    except Exception as error:
        problem = f"a fault of the program ({type(error).__name__}: {error})"
    return _line({"asked": asked, "problem": problem})


def answers(lines: Sequence[str]) -> list[str]:
    """As ``answer``, one after the other."""
    return [answer(line) for line in lines]


def worker(source: TextIO, sink: Callable[[str], None]) -> None:
    """Answer every line of a stream until it ends."""
    for line in source:
        if line.strip():
            sink(answer(line))


def _checked(asked: object) -> Row:
    if not isinstance(asked, dict):
        raise ValueError('write an object, like {"kit": "kit.yaml", "bench": "decent", ...}')
    for key in asked:
        if key not in KNOWN:
            raise ValueError(f"unknown key {key!r}; known are {', '.join(KNOWN)}")
    for key in ("kit", "bench", "builder"):
        if not isinstance(asked.get(key), str) or asked[key] == "-":
            raise ValueError(f"{key!r} has to be the name of a file")
    libraries, target, seed = asked.get("library", []), asked.get("target"), asked.get("seed", SEED)
    if not isinstance(libraries, list) or not all(isinstance(path, str) for path in libraries):
        raise ValueError("'library' has to be a list of folders")
    if target is not None and not (isinstance(target, int | float) and 0 < target < 1):
        raise ValueError("'target' has to be a chance between 0 and 1")
    if type(seed) is not int or seed < 0:
        raise ValueError("'seed' has to be a whole number from 0 on")
    return asked


def _answered(asked: Row) -> Row:
    question = _question(asked)
    risk = _engine().assess(question, detail=False)
    found = verdict(risk, question)
    chance = found.chance
    return {
        "asked": asked,
        "digest": digest(asked),
        "target": found.target,
        "answer": found.judgement.answer,
        "odds": found.judgement.odds,
        "chance": [chance.low, chance.mid, chance.high],
        "first_time": found.first_time.mid,
        "hours": risk.hours.mid,
        "ruined": risk.ruined.mid,
        "decided_by": list(found.top[:DECISIVE]),
        "cannot_be_done": sum(job.blocked for job in risk.jobs),
    }


@lru_cache(maxsize=1)
def _engine() -> RiskEngine:
    return RiskEngine(load_reference())


def _question(asked: Row) -> Question:
    libraries = tuple(asked.get("library", ()))
    level = next((level for level in LEVELS if level == asked["builder"]), None)
    return Question(
        _kit(asked["kit"], _bytes_of(asked["kit"], "kit"), libraries),
        _bench(asked["bench"], _bytes_of(asked["bench"], "bench")),
        Builder(name=level, level=level) if level else load_builder(asked["builder"]),
        _library(libraries),
        load_reference(),
        target=asked.get("target"),
        seed=asked.get("seed", SEED),
    )


# A file is read once for all that is asked about it, as long as it stays the same.


@lru_cache(maxsize=4)
def _library(libraries: tuple[str, ...]) -> Library:
    return load_library([Path(path) for path in libraries])


@lru_cache(maxsize=8)
def _kit(path: str, content: str, libraries: tuple[str, ...]) -> Kit:
    return load_kit(path, _library(libraries))


@lru_cache(maxsize=32)
def _bench(path: str, content: str) -> Bench:
    return load_bench(path)


def digest(asked: Row) -> str:
    """Changes where a file of the question does."""
    parts = [_bytes_of(asked["kit"], "kit"), _bytes_of(asked["bench"], "bench")]
    if asked["builder"] not in LEVELS:
        parts.append(_bytes_of(asked["builder"], "builder"))
    return sha256(" ".join(parts).encode()).hexdigest()[:16]


def _bytes_of(given: str, kind: Kind) -> str:
    """A fingerprint of a file; '' where there is none to read: loading it says why."""
    try:
        path = input_path(given, kind)
        if not path.is_file() or path.stat().st_size > MOST_BYTES:
            return ""
        return sha256(path.read_bytes()).hexdigest()
    except (OSError, ValueError, FileProblems):
        return ""


def _line(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


# --- many of them ---


def questions(
    kits: Sequence[str],
    benches: Sequence[str],
    builders: Sequence[str],
    *,
    libraries: Sequence[str] = (),
    target: float | None = None,
) -> list[list[Row]]:
    """What is asked, all of one kit together."""
    more: Row = {"library": list(libraries)} if libraries else {}
    if target is not None:
        more["target"] = target
    return [
        [
            {"kit": kit, "bench": bench, "builder": builder, **more}
            for bench in benches
            for builder in builders
        ]
        for kit in dict.fromkeys(kits)
    ]


def survey(
    asked: Sequence[Sequence[Row]], out: Path, processes: int, run: Run, *, as_csv: bool
) -> str:
    """Answer everything and write a table; gives what to tell in the end.

    Answers go to ``out`` with ``.part`` as they come. Stopped and started again, it goes on
    where it was; what has changed in the meantime is asked anew.

    Raises:
        FileProblems: ``out`` exists already or cannot be written.
    """
    if out.exists():
        raise FileProblems([Problem(str(out), "exists already; name another file or move it away")])
    part = out.with_name(out.name + ".part")
    known = _kept(part)
    todo = [[_line(row) for row in group if _unanswered(row, known)] for group in asked]
    start, count, total = time.monotonic(), 0, sum(map(len, todo))
    with part.open("a", encoding="utf-8") as file:
        for found in _spread([group for group in todo if group], processes):
            for line in found:
                row = json.loads(line)
                known[_line(row["asked"])] = row
                file.write(line + "\n")
            file.flush()
            count += len(found)
            rate = count / max(time.monotonic() - start, 1e-9)
            run.tell(count / total, f"{count} of {total}, {rate:.0f} a second")
    rows = [known[_line(row)] for group in asked for row in group]
    write_new(out, _table(rows) if as_csv else "".join(_line(row) + "\n" for row in rows))
    part.unlink()
    bad = sum("problem" in row for row in rows)
    kept = len(rows) - total
    told = f"{len(rows)} answers" + (f", {kept} of them from before" if kept else "")
    return told + (f"; {bad} could not be answered, see 'problem'" if bad else "")


def _kept(part: Path) -> dict[str, Row]:
    """Answers of an earlier run that was stopped; its last line may be torn."""
    found: dict[str, Row] = {}
    if part.is_file():
        for line in part.read_text("utf-8", "replace").splitlines():
            try:
                row = json.loads(line)
                found[_line(row["asked"])] = row
            except (ValueError, TypeError, KeyError):
                continue
        # A torn line must not take the next one with it.
        whole = "".join(_line(row) + "\n" for row in found.values())
        part.write_text(whole, "utf-8")
    return found


def _unanswered(row: Row, known: dict[str, Row]) -> bool:
    old = known.get(_line(row))
    return old is None or "problem" in old or old["digest"] != digest(row)


def _spread(groups: Sequence[list[str]], processes: int) -> Iterator[list[str]]:
    """Answers in the order in which they come. A group whose process ends is tried once more,
    alone; then it is told."""
    alone: list[list[str]] = []
    waiting, came = iter(groups), 0
    running: dict[Future[list[str]], list[str]] = {}
    pool = _pool(processes)
    try:
        while True:
            try:
                for group in waiting:
                    running[pool.submit(answers, group)] = group
                    if len(running) >= WAITING * processes:
                        break
                if not running:
                    break
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    found = future.result()
                    del running[future]
                    came += 1
                    yield found
            except BrokenProcessPool:
                if not came and alone:
                    raise UserProblem("no process can be started here") from None
                alone.extend(running.values())
                pool.shutdown(wait=False)
                pool, running = _pool(processes), {}
        for group in alone:
            yield from _alone(group)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _alone(group: list[str]) -> Iterator[list[str]]:
    pool = _pool(1)
    for line in group:
        try:
            yield pool.submit(answers, [line]).result()
        except BrokenProcessPool:
            pool.shutdown(wait=False)
            pool = _pool(1)
            yield [_line({"asked": json.loads(line), "problem": LOST})]
    pool.shutdown()


def _pool(processes: int) -> ProcessPoolExecutor:
    # Each process is one core's worth: threads below would only get in each other's way.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    return ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"))


def _table(rows: Iterable[Row]) -> str:
    """A row per answer; text that a spreadsheet would take for a formula is quoted."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        low, mid, high = row.get("chance", ("", "", ""))
        cells = {
            **row["asked"],
            **row,
            "chance_low": low,
            "chance": mid,
            "chance_high": high,
            "decided_by": " ".join(row.get("decided_by", ())),
        }
        writer.writerow([_cell(cells.get(name, "")) for name in COLUMNS])
    return file.getvalue()


def _cell(value: object) -> object:
    return as_text(value) if isinstance(value, str) else value
