"""A list of one-line choices without a frame."""

from __future__ import annotations

from textual.widgets import OptionList


class Lines(OptionList):
    DEFAULT_CSS = """
    Lines {
        border: none;
        padding: 0;
        background: transparent;
        height: auto;
        text-wrap: nowrap;
        text-overflow: ellipsis;
        &:focus { border: none; background-tint: transparent; }
        & > .option-list--option { padding: 0; }
        & > .option-list--option-highlighted { background: $primary 20%; color: $foreground; }
        &:focus > .option-list--option-highlighted {
            background: $primary 40%;
            color: $foreground;
            text-style: bold;
        }
    }
    """
