"""A person's own bench and builder, in the platform's folder for settings, and what the
program remembers between runs. Nothing here is read where settings are turned off: by
``--no-settings`` or by ``SOLDERRISK_NO_SETTINGS`` in the environment."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solderrisk.files.text import FileProblems, write_new, write_over
from solderrisk.folders import OFF as OFF
from solderrisk.folders import platform_folder, settings_off

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench, Builder, Level
    from solderrisk.model.plan_data import PricedTool

FORMAT = 1
MADE = "# Made by solderrisk setup. Change it as you like: it is then yours and never written over."
SEAL = "# seal "


def folder() -> Path:
    """Where the files lie; it need not exist."""
    return Path(platform_folder("config"))


@dataclass(frozen=True)
class Own:
    """One's own bench and builder; None where there is none, or none that can be used, which
    ``notes`` say."""

    bench: Path | None = None
    builder: Path | None = None
    notes: tuple[str, ...] = ()

    @classmethod
    def found(cls, *, off: bool = False) -> Own:
        """Looks for them; nothing is found where settings are turned off."""
        if off or settings_off():
            return cls()
        from solderrisk.files.loading import load_bench, load_builder

        paths: dict[str, Path | None] = {}
        notes: list[str] = []
        for name, load in (("bench", load_bench), ("builder", load_builder)):
            path = folder() / f"{name}.yaml"
            paths[name] = path if os.path.exists(path) else None
            if paths[name] is None:
                continue
            try:
                load(path)
            except FileProblems as problem:
                paths[name] = None
                notes.append(f"your {name} is passed over: {problem.problems[0]}")
        return cls(paths["bench"], paths["builder"], tuple(notes))


def keep(name: str, text: str) -> Path:
    """Write a person's file, ``bench`` or ``builder``. One that the person has changed since
    it was made stays, and the new one goes beside it under another name.

    Raises:
        FileProblems: it cannot be written.
    """
    place = folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        from solderrisk.files.text import Problem

        problem = Problem(str(place), f"cannot be made ({error.strerror}); check the path")
        raise FileProblems([problem]) from None
    path = place / f"{name}.yaml"
    sealed = f"{MADE}\n{SEAL}{_seal(text)}\n{text}"
    if not os.path.lexists(path):
        write_new(path, sealed)
        return path
    if _untouched(path):
        write_over(path, sealed)
        return path
    for number in range(2, 1000):
        beside = place / f"{name}-{number}.yaml"
        if not os.path.lexists(beside):
            write_new(beside, sealed)
            return beside
    raise FileProblems([])


def own_currency() -> str:
    """The currency of one's own builder; '' where there is none."""
    from solderrisk.files.loading import load_builder

    builder = Own.found().builder
    return load_builder(builder).currency if builder is not None else ""


def _seal(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _untouched(path: Path) -> bool:
    try:
        head, seal, text = path.read_text(encoding="utf-8").split("\n", 2)
    except (OSError, ValueError):
        return False
    return head == MADE and seal == f"{SEAL}{_seal(text)}"


def remembered() -> dict[str, Any]:
    """What the last run left: kit, place, theme and the like; empty where there is nothing
    that this version can use."""
    if settings_off():
        return {}
    try:
        found = json.loads((folder() / "last.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    usable = isinstance(found, dict) and found.get("format") == FORMAT
    return {key: value for key, value in found.items() if key != "format"} if usable else {}


def remember(values: Mapping[str, Any]) -> None:
    """Keep it for the next run, beside what was kept before. A file of a newer version stays;
    what cannot be written is forgotten in silence, for nobody asked for it."""
    if settings_off():
        return
    path = folder() / "last.json"
    try:
        found = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        if isinstance(found, dict) and int(found.get("format", FORMAT)) > FORMAT:
            return
    except (OSError, ValueError, TypeError):
        pass
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        kept = {"format": FORMAT, **remembered(), **values}
        write_over(path, json.dumps(kept, indent=1) + "\n")
    except (OSError, FileProblems):
        return


# What a person says of themselves, as their own files

GUIDED_QUESTION = "Does somebody who knows stand by while you work?"
LENS_QUESTION = "Do you need a lens to read the print on a chip 1.6 mm long?"
# What reads that print without a lens, and what does not.
SHARP_ARCMIN, BLUNT_ARCMIN = 1.0, 2.0
ALLOYS = ("Sn63Pb37", "SAC305")
# Offered in turn; any other three letters may be written into the file.
CURRENCIES = ("EUR", "USD", "GBP", "CHF", "SEK", "PLN", "CAD", "AUD", "JPY", "INR", "BRL")


def own_builder(
    done: Mapping[str, Level], needs_lens: bool, guided: bool = False, currency: str = ""
) -> Builder:
    """A builder by their own word: what has been done, by skill."""
    from solderrisk.model.bench import LEVELS, Builder, SkillLevel

    return Builder(
        name="mine",
        title="you, by your own word",
        level=max(done.values(), key=LEVELS.index, default="never"),
        skills=tuple(SkillLevel(skill=skill, level=level) for skill, level in done.items()),
        acuity_arcmin=BLUNT_ARCMIN if needs_lens else SHARP_ARCMIN,
        guided=guided,
        currency=currency,
    )


def own_bench(tools: Sequence[PricedTool], alloy: str) -> Bench:
    """A bench of ticked tools. Whoever solders has an iron: where none is ticked, the plain
    one of a first tool box."""
    from solderrisk.model.bench import Bench, Iron, Solder, Tip
    from solderrisk.model.plan_data import with_tools

    bench = Bench(name="mine", title="your bench", solders=(Solder(alloy=alloy),))
    bench = with_tools(bench, list(tools))
    tips = (Tip(width_mm=1.0, shape="conical"), Tip(width_mm=2.0, shape="chisel"))
    plain = Iron(name="plain 25 W iron", drive="plain", power_w=25, tips=tips)
    return bench if bench.irons else bench.model_copy(update={"irons": (plain,)})


def as_yaml(value: Bench | Builder) -> str:
    import yaml

    plain = value.model_dump(mode="json", exclude_defaults=True)
    return yaml.safe_dump(plain, sort_keys=False, allow_unicode=True)
