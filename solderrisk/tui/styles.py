"""Styles stand in files beside the screens they belong to."""

from __future__ import annotations

from pathlib import Path


def styles_of(module_file: str, name: str = "") -> str:
    """The text of the ``.tcss`` file beside a module. Given as a screen's default styles it
    is parsed with the rest; as its ``CSS_PATH`` all styles would be parsed again."""
    path = Path(module_file)
    path = path.with_name(f"{name}.tcss") if name else path.with_suffix(".tcss")
    return path.read_text(encoding="utf-8")
