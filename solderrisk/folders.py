"""Where the program's files lie on this platform, and whether it may keep any. On the ground,
and light: recording at the bench asks for it before anything else is loaded."""

from __future__ import annotations

import os
import sys

# Environment variable and usual folder by kind, as platformdirs answers on Linux.
LINUX = {
    "cache": ("XDG_CACHE_HOME", "~/.cache"),
    "config": ("XDG_CONFIG_HOME", "~/.config"),
    "data": ("XDG_DATA_HOME", "~/.local/share"),
    "state": ("XDG_STATE_HOME", "~/.local/state"),
}

OFF = "SOLDERRISK_NO_SETTINGS"


def settings_off() -> bool:
    """Whether nothing may be read or kept that is a person's own."""
    return bool(os.environ.get(OFF))


def platform_folder(kind: str) -> str:
    """The program's folder of a kind of ``LINUX``; it need not exist."""
    if sys.platform == "linux":
        # Without the time that the import of platformdirs takes.
        variable, usual = LINUX[kind]
        base = os.environ.get(variable, "").strip() or os.path.expanduser(usual)
        return os.path.join(base, "solderrisk")
    import platformdirs

    return str(getattr(platformdirs, f"user_{kind}_dir")("solderrisk", appauthor=False))
