from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from solderrisk.files.loading import DEMO_FOLDERS, SHAPES, json_schema
from solderrisk.files.text import read_text
from solderrisk.files.yaml_text import Source

TYPES: dict[str, Any] = {
    "string": str,
    "number": (int, float),
    "integer": int,
    "boolean": bool,
    "array": list,
    "object": dict,
    "null": type(None),
}
KNOWN = {
    "$defs", "$ref", "$schema", "additionalProperties", "anyOf", "const", "default", "description",
    "enum", "exclusiveMinimum", "items", "maxItems", "maxLength", "maximum", "minItems",
    "minLength", "minProperties", "minimum", "pattern", "prefixItems", "properties",
    "propertyNames", "required", "title", "type",
}  # fmt: skip


def accepts(schema: Any, value: Any, root: dict[str, Any]) -> bool:
    """The keywords of JSON Schema 2020-12 that the files use (json-schema.org, Validation)."""
    if isinstance(schema, bool):
        return schema
    assert not set(schema) - KNOWN
    if "$ref" in schema:
        name = schema["$ref"].removeprefix("#/$defs/")
        if not accepts(root["$defs"][name], value, root):
            return False
    if "anyOf" in schema and not any(accepts(s, value, root) for s in schema["anyOf"]):
        return False
    types = schema.get("type", list(TYPES))
    types = [types] if isinstance(types, str) else types
    if not any(_is(value, name) for name in types):
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if isinstance(value, str):
        return _text(schema, value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _number(schema, value)
    if isinstance(value, list):
        return _list(schema, value, root)
    return _object(schema, value, root) if isinstance(value, dict) else True


def _is(value: Any, name: str) -> bool:
    if isinstance(value, bool):
        return name == "boolean"
    return isinstance(value, TYPES[name]) and name != "boolean"


def _text(schema: Any, value: str) -> bool:
    fits = schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", 1e9)
    return fits and re.search(schema.get("pattern", ""), value) is not None


def _number(schema: Any, value: float) -> bool:
    low = schema.get("minimum", float("-inf")) <= value <= schema.get("maximum", float("inf"))
    return low and value > schema.get("exclusiveMinimum", float("-inf"))


def _list(schema: Any, value: list[Any], root: dict[str, Any]) -> bool:
    if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 1e9):
        return False
    first = schema.get("prefixItems", [])
    rest = [schema.get("items", True)] * (len(value) - len(first))
    return all(accepts(s, v, root) for s, v in zip([*first, *rest], value, strict=False))


def _object(schema: Any, value: dict[str, Any], root: dict[str, Any]) -> bool:
    known = schema.get("properties", {})
    other = schema.get("additionalProperties", True)
    return set(schema.get("required", ())) <= set(value) and all(
        accepts(known.get(key, other), item, root) for key, item in value.items()
    )


def demo_files() -> list[Any]:
    return [
        pytest.param(kind, path, id=path.stem)
        for kind, folder in DEMO_FOLDERS.items()
        for path in sorted(folder.glob("*.yaml"))
    ]


@pytest.mark.parametrize(("kind", "path"), demo_files())
def test_demo_files_fit_their_schema(kind: Any, path: Path) -> None:
    schema = json_schema(kind)
    assert accepts(schema, Source(path.name, read_text(path)).value(), schema)


@pytest.mark.parametrize("kind", SHAPES)
def test_schema_is_json_and_names_every_key(kind: Any) -> None:
    schema = json.loads(json.dumps(json_schema(kind)))
    assert set(schema["properties"]) == set(SHAPES[kind].model_fields)
    assert schema["additionalProperties"] is False
    assert schema["title"] == f"solderrisk: {kind} file"


BOARD = {"name": "main"}
PLACEMENT = {"refs": "R1", "footprint": "0603", "board": "main"}


@pytest.mark.parametrize(
    ("change", "fits"),
    [
        ({}, True),
        ({"nmae": 1}, False),
        ({"boards": []}, False),
        ({"boards": [{"name": "main", "thickness_mm": "62 mil"}]}, True),
        ({"boards": [{"name": "main", "thickness_mm": "62 furlong"}]}, False),
        ({"boards": [{"name": "main", "thickness_mm": 1.6}]}, True),
        ({"boards": [{"name": "main", "thickness_mm": -1.6}]}, False),
        ({"boards": [{"name": 7}]}, True),
        ({"boards": [{"name": "main", "finish": "gold"}]}, False),
        ({"placements": [{**PLACEMENT, "quantity": 0}]}, False),
        ({"placements": [{**PLACEMENT, "footprint": 1206}]}, True),
        ({"placements": [{"refs": "R1"}]}, False),
        ({"target_chance": None}, True),
        ({"target_chance": 2}, False),
    ],
)
def test_the_schema_tells_good_kits_from_bad(change: dict[str, Any], fits: bool) -> None:
    schema = json_schema("kit")
    assert accepts(schema, {"name": "k", "boards": [BOARD], **change}, schema) is fits
