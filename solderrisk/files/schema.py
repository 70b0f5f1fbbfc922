"""JSON Schema of the files a user writes, for editors that complete and check."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.footprint import FootprintFile
from solderrisk.model.kit import Kit

SchemaKind = Literal["kit", "bench", "builder", "footprints"]

MODELS: dict[SchemaKind, type[BaseModel]] = {
    "kit": Kit,
    "bench": Bench,
    "builder": Builder,
    "footprints": FootprintFile,
}
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(kind: SchemaKind) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of one kind of file.

    Raises:
        KeyError: no such kind.
    """
    schema = MODELS[kind].model_json_schema(mode="validation")
    if kind == "bench":
        schema["properties"]["aids"]["items"]["enum"] = list(load_reference().plan.aids)
    _loosen(schema)
    schema["title"] = f"solderrisk: {kind} file"
    return {"$schema": DIALECT, **schema}


def _loosen(node: Any) -> None:
    """Where text is wanted a bare number will do (``footprint: 0603``, ``value: 4.70``)."""
    if isinstance(node, list):
        for item in node:
            _loosen(item)
    elif isinstance(node, dict):
        if node.get("type") == "string" and not {"enum", "const", "pattern"} & node.keys():
            node["type"] = ["string", "number"]
        for item in node.values():
            _loosen(item)
