"""solderrisk: can this builder, with this bench, manage this kit?"""

from __future__ import annotations

from solderrisk.words import VERSION

__version__ = VERSION
__all__ = ["Question", "Run", "Session", "open_inputs"]

# Nothing is imported before it is asked for: --help and --version load none of it.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from solderrisk.files.loading import open_inputs
    from solderrisk.model.question import Question, Run
    from solderrisk.session import Session

_HOMES = {
    "Question": "model.question",
    "Run": "model.question",
    "Session": "session",
    "open_inputs": "files.loading",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
