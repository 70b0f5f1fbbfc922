"""Figures of a hazard's reason in words."""

from __future__ import annotations

from solderrisk.risk.heat.setup import Setup


def window_text(window: float, setup: Setup) -> str:
    margin = f", {setup.iron_heat.margin_k:+.0f} K margin" if setup.iron_heat else ""
    return f"longest over needed time {window:.1f}{margin}"
