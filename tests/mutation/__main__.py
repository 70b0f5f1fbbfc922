"""How many single mutations a package's own tests catch.

    python -m tests.mutation physics --draw 200 --seed 1

A package's own tests are those of its folder and those of ``tests/reference`` that import from it.
For each mutation the tests that reach its line are run, quickest first, then the whole files
they stand in. Which tests those are is found once by coverage. What survives is listed; what
nothing could tell apart is excused in ``equivalent.txt``, each with its reason.
"""

from __future__ import annotations

import argparse
import importlib.abc
import importlib.util
import io
import os
import resource
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

import pytest

from tests.mutation.sites import Site, drawn, mutated, sites

ROOT = Path(__file__).parents[2]
PRODUCT = ROOT / "solderrisk"
CHECKED = ("physics", "risk", "plan")  # against the outside, by tests/reference
EXCUSES = Path(__file__).with_name("equivalent.txt")
MOST_BYTES = 4 << 30
FIRST = 60  # tests that reach the line and are tried before whole files
ARGUMENTS = ("-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-p", "no:randomly", "--no-header")
CAUGHT, SURVIVED, TIMED_OUT = "caught", "survived", "timed out"


@dataclass
class Reached:
    """Which tests reach which lines, and how long each takes."""

    lines: dict[str, dict[int, set[str]]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    failing: set[str] = field(default_factory=set)  # without any mutation: not used

    def tests(self, site: Site) -> list[str]:
        file = self.lines.get(site.file, {})
        found = file.get(site.line, set())
        # What runs while a module loads is reached by all that use the module.
        found = found - {""} - self.failing or (
            {name for names in file.values() for name in names} - {""} - self.failing
        )
        return sorted(found, key=lambda name: (self.seconds.get(name, 0.0), name))


class _Watch:
    """A pytest plugin that tells coverage whose turn it is."""

    def __init__(self, coverage: object, reached: Reached) -> None:
        self.coverage, self.reached = coverage, reached

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.coverage.switch_context(nodeid)  # type: ignore[attr-defined]
        self.start = time.process_time()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.reached.failing.add(report.nodeid)

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        self.reached.seconds[nodeid] = time.process_time() - self.start
        self.coverage.switch_context("")  # type: ignore[attr-defined]


def reach(tests: Sequence[str]) -> Reached:
    """Run the tests once and note what they reach."""
    import coverage

    found = Reached()
    watcher = coverage.Coverage(source=[str(PRODUCT)], data_file=None)
    watcher.start()
    pytest.main([*ARGUMENTS[1:], *tests], plugins=[_Watch(watcher, found)])
    watcher.stop()
    data = watcher.get_data()
    for name in data.measured_files():
        by_line = data.contexts_by_lineno(name)
        file = Path(name).relative_to(ROOT).as_posix()
        found.lines[file] = {line: set(names) for line, names in by_line.items()}
    return found


class _Mutant(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module with one change."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.path = ROOT / site.file
        self.name = ".".join(Path(site.file).with_suffix("").parts).removesuffix(".__init__")

    def find_spec(self, name: str, path: object = None, target: object = None):  # type: ignore[no-untyped-def]
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec: object) -> ModuleType | None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        tree = mutated(self.path.read_text("utf-8"), self.site)
        exec(compile(tree, str(self.path), "exec"), module.__dict__)


def tried(site: Site, reached: Reached, seconds: float) -> str:
    """What becomes of a mutation, in a child of its own."""
    tests = reached.tests(site)
    if not tests:
        return SURVIVED
    files = list(dict.fromkeys(name.partition("::")[0] for name in tests))
    child = os.fork()
    if child == 0:
        try:
            # For a loop that never ends, and for one that gathers without end.
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 5))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
            sys.meta_path.insert(0, _Mutant(site))
            with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
                devnull = os.open(os.devnull, os.O_WRONLY)
                os.dup2(devnull, 1)
                os.dup2(devnull, 2)
                status = int(pytest.main([*ARGUMENTS, *tests[:FIRST]]))
                if status == 0:
                    # What is kept between tests hides who reaches a line.
                    left_out = [f"--deselect={name}" for name in reached.failing]
                    status = int(pytest.main([*ARGUMENTS, *files, *left_out]))
        except BaseException:
            status = 1
        os._exit(0 if status == 0 else 1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return TIMED_OUT
    return SURVIVED if os.WEXITSTATUS(status) == 0 else CAUGHT


def own_tests(package: str) -> list[str]:
    """The folder of a package's tests, and what checks it against the outside."""
    if package not in CHECKED:
        return [f"tests/{package}"]
    checks = sorted((ROOT / "tests/reference").glob("test_*.py"))
    imports = f"from solderrisk.{package}."
    outside = [path for path in checks if imports in path.read_text("utf-8")]
    return [f"tests/{package}", *(path.relative_to(ROOT).as_posix() for path in outside)]


def excuses() -> dict[str, str]:
    """Mutations that nothing can tell apart: file, old and new text to the reason.

    Where the same change can be made in several places, the line's text follows it.
    """
    found = {}
    for line in EXCUSES.read_text("utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            change, _, reason = line.partition(" # ")
            found[change.strip()] = reason.strip()
    return found


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("package", help="of solderrisk, or one file: physics, plan/order_large.py")
    parser.add_argument("--draw", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--again", type=Path, help="only what is listed here as survived")
    parser.add_argument("--tests", nargs="*", help="other tests than the package's own")
    args = parser.parse_args()
    where = PRODUCT / args.package
    paths = [where] if where.is_file() else sorted(where.rglob("*.py"))
    if not paths:
        raise SystemExit(f"no such package: {args.package}")
    tests = args.tests or own_tests(Path(args.package).parts[0])
    every = [site for path in paths for site in sites(path, ROOT)]
    chosen = drawn(every, args.draw, args.seed)
    if args.again:
        # Lines may have moved since.
        old = {
            line.partition("`")[2].strip() for line in args.again.read_text("utf-8").splitlines()
        }
        files = {word for line in args.again.open() for word in [line.split(":")[1].strip()]}
        chosen = [s for s in every if s.file in files and s.told.partition("`")[2].strip() in old]
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        # Nothing of the product stays loaded here: every mutant loads its own.
        import pickle

        os.close(read)
        with os.fdopen(write, "wb") as file, redirect_stdout(io.StringIO()):
            pickle.dump(reach(tests), file)
        os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as file:
        import pickle

        raw = file.read()
    os.waitpid(child, 0)
    if not raw:
        raise SystemExit("the tests could not be run")
    reached: Reached = pickle.loads(raw)
    for name in sorted(reached.failing):
        print(f"left out, it fails already: {name}")
    limit = 30 + 3 * sum(reached.seconds.values())
    _preload(args.package)
    known, start = excuses(), time.monotonic()
    counts = {CAUGHT: 0, SURVIVED: 0, TIMED_OUT: 0, "excused": 0}
    with ThreadPoolExecutor(args.jobs) as pool:
        results = pool.map(lambda site: (site, tried(site, reached, limit)), chosen)
        for site, result in results:
            key = f"{site.file} `{site.old}` -> `{site.new}`"
            if result == SURVIVED and {key, f"{key} in `{site.text}`"} & known.keys():
                result = "excused"
            counts[result] += 1
            if result in (SURVIVED, TIMED_OUT):
                print(f"{result}: {site.told}", flush=True)
    noticed = counts[CAUGHT] + counts[TIMED_OUT]
    asked = len(chosen) - counts["excused"]
    print(
        f"{args.package}: {len(chosen)} of {len(every)} mutations, seed {args.seed}: "
        f"{noticed} of {asked} caught ({noticed / max(asked, 1):.1%}), {counts[TIMED_OUT]} of "
        f"them ran on, {counts['excused']} excused; {time.monotonic() - start:.0f} s"
    )
    return 0


def _preload(package: str) -> None:
    """What every child needs and no mutation touches."""
    names = ["numpy", "scipy.special", "scipy.integrate", "pydantic", "yaml", "hypothesis"]
    if package.startswith("plan"):
        names += ["solderrisk.files.loading", "solderrisk.risk.engine"]  # the layers below
    for name in names:
        __import__(name)


if __name__ == "__main__":
    sys.exit(main())
