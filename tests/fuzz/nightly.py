"""Many broken inputs, for a night: python -m tests.fuzz.nightly 100000 [SEED] [FOLDER]

Ends with how many of each kind were tried. What ends otherwise than with an answer or one line
per problem is a fault: it is told, and its file is kept in FOLDER.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from solderrisk.draft.drafting import draft
from solderrisk.draft.write import kit_yaml, report_text, round_trip
from solderrisk.files.loading import DEMO_FOLDERS, load_bench, load_builder, load_kit, load_library
from solderrisk.files.reference import load_reference, with_prices, with_rates
from solderrisk.files.text import FileProblems
from solderrisk.model.library import Library
from solderrisk.model.problems import UserProblem
from solderrisk.report.data import as_json
from solderrisk.report.text import text
from solderrisk.session import Session
from solderrisk.survey import answer
from tests.fuzz.test_inputs_fuzz import SEEDS, mutated

ROOT = Path(__file__).parents[2]
SLOW_S = 10.0
WORDS = (
    b"- ", b": ", b"\n", b"  ", b"[", b"]", b"{", b"}", b"&a ", b"*a", b"? ", b"|\n", b"'", b'"',
    b"#", b"---\n", b"!!str ", b"name", b"refs", b"R1-R9", b"0402", b"1e3", b"~", b"@", b"\xef\xbb",
    b"true", b"-1", b"0", b"1e308", b"null", b"10k [1%]", b"\x07", b"9" * 20,
)  # fmt: skip
PACKAGED = Library()


def drafted(path: Path) -> None:
    made = draft([path], PACKAGED)
    report_text(made)
    written = kit_yaml(made)
    if made.placements:
        round_trip(written)


def assessed(path: Path) -> None:
    """A kit that still loads is answered in full by one in ten."""
    library = load_library([])
    kit = load_kit(path, library)
    if random.random() < 0.1:
        from solderrisk.files.loading import open_inputs

        found = Session().assess(open_inputs("water-lamp", "decent", "hobbyist").but(kit=kit))
        text(found)
        as_json(found)


def kinds() -> dict[str, tuple[int, list[Path], Callable[[Path], object]]]:
    """Kinds of input: how often, from which files, and what is done with them."""
    by_folder: dict[str, list[Path]] = {}
    for seed in SEEDS:
        by_folder.setdefault(seed.parent.name, []).append(seed)
    reference = load_reference()
    tools = [ROOT / "solderrisk/data/tools.yaml"]
    rates = [ROOT / "solderrisk/data/risk.yaml"]
    found: dict[str, tuple[int, list[Path], Callable[[Path], object]]] = {
        name: (8, files, drafted) for name, files in by_folder.items()
    }
    found |= {
        "kit": (6, sorted(DEMO_FOLDERS["kit"].glob("*.yaml")), assessed),
        "bench": (8, sorted(DEMO_FOLDERS["bench"].glob("*.yaml")), load_bench),
        "builder": (16, sorted(DEMO_FOLDERS["builder"].glob("*.yaml")), load_builder),
        "footprints": (
            6, sorted((ROOT / "footprints").glob("*.yaml")), lambda path: load_library([path])
        ),
        "prices": (4, tools, lambda path: with_prices(reference, path)),
        "rates": (4, rates, lambda path: with_rates(reference, path)),
        "survey": (
            8, sorted(DEMO_FOLDERS["builder"].glob("*.yaml")),
            lambda path: answer(path.read_bytes().decode("utf-8", "replace")),
        ),
    }  # fmt: skip
    return found


def broken(data: bytes, rng: random.Random) -> bytes:
    """Accidents of bytes, or words in wrong places."""
    if rng.random() < 0.5:
        return mutated(data, rng)
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(out) + 1)
        if rng.random() < 0.5:
            out[at:at] = rng.choice(WORDS)
        else:
            end = out.find(rng.choice((b"\n", b" ", b",")), at)
            out[at : end if end >= 0 else len(out)] = rng.choice(WORDS)
    return bytes(out)


def main(count: int, seed: int, folder: Path) -> int:
    rng = random.Random(seed)
    random.seed(seed)
    table = kinds()
    names = [name for name, (weight, *_) in table.items() for _ in range(weight)]
    tried: Counter[str] = Counter()
    refused: Counter[str] = Counter()
    faults: Counter[str] = Counter()
    slowest = 0.0
    with tempfile.TemporaryDirectory() as here:
        for number in range(count):
            name = rng.choice(names)
            _, files, use = table[name]
            source = rng.choice(files)
            path = Path(here) / source.name
            path.write_bytes(broken(source.read_bytes(), rng))
            start = time.process_time()
            tried[name] += 1
            try:
                use(path)
            except (FileProblems, UserProblem):
                refused[name] += 1
            except Exception as error:
                faults[name] += 1
                keep(path, folder, number, f"{name}: {type(error).__name__}: {error}")
            took = time.process_time() - start
            slowest = max(slowest, took)
            if took > SLOW_S:
                faults[name] += 1
                keep(path, folder, number, f"{name}: {took:.0f} s")
            path.unlink()
    for name in table:
        print(f"{name:12} {tried[name]:7} tried, {refused[name]:7} refused, {faults[name]} faults")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    total = sum(faults.values())
    print(f"{count} inputs, seed {seed}: {total} faults; slowest {slowest:.1f} s, {memory:.0f} MB")
    return 1 if total else 0


def keep(path: Path, folder: Path, number: int, what: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / f"{number}-{path.name}"
    kept.write_bytes(path.read_bytes())
    print(f"FAULT {what[:300]!r}, kept as {kept}", flush=True)


if __name__ == "__main__":
    arguments = sys.argv[1:]
    sys.exit(
        main(
            int(arguments[0]) if arguments else 100_000,
            int(arguments[1]) if len(arguments) > 1 else random.SystemRandom().randrange(10**6),
            Path(arguments[2] if len(arguments) > 2 else tempfile.gettempdir()) / "faults",
        )
    )
