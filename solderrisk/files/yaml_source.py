"""Reading YAML that people wrote."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

import yaml
from pydantic import BaseModel

M = TypeVar("M", bound=BaseModel)


def read_model(path: Path, model: type[M]) -> M:
    """Read one YAML file into a model.

    Raises:
        FileProblems: with every problem found, each with file, line and column.
    """
    return model.model_validate(yaml.safe_load(path.read_text(encoding="utf-8")))
