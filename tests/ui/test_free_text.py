"""What people write in their files is text on every screen, never markup and never an action."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from textual.pilot import Pilot

from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from tests.ui.driving import flat, press, rest, screen_text, settle, type_text

WIDE = (200, 60)
HOSTILE = (
    "10k [tol=±1%]",
    "x [/]",
    "x [/b]",
    "[link=file:///x]",
    "[DNP]",
    "10k [1%]",
    "[$5]",
    "conn [a=b]",
    "[red]x",
    "[@click=app.quit]go[/]",
)


def kit_of(texts: tuple[str, ...]) -> dict[str, object]:
    """A kit with one of the texts in every field that takes free text."""
    text = texts[0]
    placements = [
        {"refs": f"R{n}", "footprint": "CHIP-0805", "board": text, "value": value, "note": value}
        for n, value in enumerate(texts, 1)
    ]
    return {
        "name": text,
        "title": text,
        "boards": [{"name": text, "copper_layers": 2}],
        "placements": placements,
        "donors": [{"name": text, "board": {"name": text}}],
        "lifts": [{"ref": "U1", "donor": text, "footprint": "SOIC-8"}],
        "wires": [{"ref": "W1", "board": text, "connections": 2, "note": text}],
        "gates": [{"ref": "G1", "title": text, "kind": "shorts", "after": ["R1"]}],
        "tasks": [{"ref": "T1", "title": text, "minutes": 5}],
        "rules": [{"first": "R1", "then": "R2", "why": text}],
        "extras": [{"name": text, "price": 3}],
        "plastics": [{"name": text, "board": text, "x_mm": 5, "y_mm": 5}],
    }


def bench_of(text: str) -> dict[str, object]:
    return {
        "name": text,
        "irons": [{"name": text, "drive": "station", "power_w": 60, "tips": [{"width_mm": 1.2}]}],
        "hot_air": [{"name": text, "power_w": 700, "nozzles_mm": [5.0, 8.0]}],
        "preheaters": [{"name": text}],
        "magnifiers": [{"name": text, "power_x": 3.5}],
        "solders": [{"alloy": "Sn63Pb37"}],
        "fluxes": [{"kind": "rosin"}],
    }


def written(folder: Path, name: str, value: dict[str, object]) -> Path:
    path = folder / name
    path.write_text(yaml.safe_dump(value, allow_unicode=True), encoding="utf-8")
    return path


def inputs_of(folder: Path, texts: tuple[str, ...]) -> Inputs:
    text = texts[0]
    kit = written(folder, "kit.yaml", kit_of(texts))
    bench = written(folder, "bench.yaml", bench_of(text))
    builder = written(folder, "builder.yaml", {"name": text, "level": "several"})
    return Inputs(str(kit), str(bench), str(builder))


def actions(pilot: Pilot[int]) -> list[object]:
    """What a click anywhere on the screen would do by markup."""
    strips = pilot.app.screen._compositor.render_strips()
    found = [segment.style.meta for strip in strips for segment in strip if segment.style]
    return [meta for meta in found if "@click" in meta]


@pytest.mark.parametrize("turn", [0, 5])
async def test_free_text_is_shown_as_typed_everywhere(turn: int, tmp_path: Path) -> None:
    texts = HOSTILE[turn:] + HOSTILE[:turn]
    app = SolderriskApp(inputs_of(tmp_path, texts))
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=WIDE) as pilot:
        await rest(pilot)
        assert not app.problem, app.problem
        seen = screen_text(pilot)
        for keys in ("2", "c", "h", "f", "a", "3", "4", "tab", "5", "6", "d", "7"):
            seen += await press(pilot, keys)
            assert actions(pilot) == []
        assert texts[0] in flat(seen)
        for number, text in enumerate(texts, 1):
            await press(pilot, "2", "ctrl+p")
            await type_text(pilot, f"R{number}")
            assert await appears(pilot, text)
            assert actions(pilot) == []
            await press(pilot, "escape")
        assert app.is_running


async def appears(pilot: Pilot[int], text: str) -> bool:
    for _ in range(200):
        await settle(pilot)
        if text in flat(screen_text(pilot)):
            return True
    return False
