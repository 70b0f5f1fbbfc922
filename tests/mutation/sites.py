"""Single mutations of a source text: what can be changed, and the text's tree with one change."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
BOUNDS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
FLIPS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
OPPOSITE = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Site:
    """One change: the ``number``-th node of the file's tree, and what becomes of it."""

    file: str
    number: int
    kind: str
    line: int
    old: str
    new: str
    text: str  # of the line it stands in

    @property
    def told(self) -> str:
        return f"{self.file}:{self.line} `{self.old}` -> `{self.new}`"


def sites(path: Path, root: Path) -> list[Site]:
    """Every change that can be made to a file, annotations and texts left out."""
    source = path.read_text("utf-8")
    tree, lines = ast.parse(source), ["", *source.splitlines()]
    silent = {id(node) for part in _silent(tree) for node in ast.walk(part)}
    name = path.relative_to(root).as_posix()
    found = []
    for number, node in enumerate(ast.walk(tree)):
        if id(node) in silent:
            continue
        for kind, changed in _changes(node):
            line = getattr(node, "lineno", 0)
            old, new = ast.unparse(node), ast.unparse(changed)
            found.append(Site(name, number, kind, line, old, new, lines[line].strip()))
    return found


def mutated(source: str, site: Site) -> ast.Module:
    """The tree of a source text with one change."""
    tree = ast.parse(source)
    nodes = list(ast.walk(tree))
    target = nodes[site.number]
    for kind, changed in _changes(target):
        if kind == site.kind and ast.unparse(changed) == site.new:
            for parent in nodes:
                _put(parent, target, ast.copy_location(changed, target))
            return ast.fix_missing_locations(tree)
    raise ValueError(f"no such change: {site.told}")


def drawn(every: Sequence[Site], count: int, seed: int) -> list[Site]:
    """Sites drawn evenly by kind."""
    rng = random.Random(seed)
    kinds: dict[str, list[Site]] = {}
    for site in every:
        kinds.setdefault(site.kind, []).append(site)
    for group in kinds.values():
        rng.shuffle(group)
    found: list[Site] = []
    while len(found) < count and any(kinds.values()):
        for group in kinds.values():
            if group and len(found) < count:
                found.append(group.pop())
    return found


def _silent(tree: ast.AST) -> Iterator[ast.AST]:
    """What no test can hear: annotations, texts put together, declarations of types."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield node
        for name in ("annotation", "returns"):
            part = getattr(node, name, None)
            if isinstance(part, ast.AST):
                yield part
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            yield node
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Subscript):
            # An alias of a type: ``Floats = NDArray[np.float64]``.
            yield node


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
        yield "operator", ast.BinOp(node.left, OPERATORS[type(node.op)](), node.right)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        op = type(node.ops[0])
        for kind, table in (("bound", BOUNDS), ("flip", FLIPS)):
            if op in table:
                yield kind, ast.Compare(node.left, [table[op]()], node.comparators)
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and or", ast.BoolOp(other, node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not", node.operand
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "sign", node.operand
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        if node.func.id in OPPOSITE:
            func = ast.Name(OPPOSITE[node.func.id], ast.Load())
            yield "min max", ast.Call(func, node.args, node.keywords)
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        value = node.value
        yield "constant", ast.Constant(value + 1 if type(value) is int else value * 1.25 or 1.0)


def _put(parent: ast.AST, old: ast.AST, new: ast.AST) -> None:
    for name, value in ast.iter_fields(parent):
        if value is old:
            setattr(parent, name, new)
        elif isinstance(value, list):
            setattr(parent, name, [new if item is old else item for item in value])
