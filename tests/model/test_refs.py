from __future__ import annotations

import pytest

from solderrisk.model.refs import MAX_REFS, expand_refs


@pytest.mark.parametrize(
    ("text", "refs"),
    [
        ("R1", ["R1"]),
        ("C1, C4", ["C1", "C4"]),
        ("R1-R3,R7", ["R1", "R2", "R3", "R7"]),
        ("R1..3; U1", ["R1", "R2", "R3", "U1"]),
        ("R9 – R10", ["R9", "R10"]),
        ("USB-C", ["USB-C"]),
        ("1-3", ["1", "2", "3"]),
    ],
)
def test_expands(text: str, refs: list[str]) -> None:
    assert list(expand_refs(text)) == refs


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("R1,,R2", "empty reference"),
        ("", "empty reference"),
        ("R1, R1", "R1 is written twice"),
        ("R1-R3, R2", "R2 is written twice"),
        ("R5-R2", "runs backwards"),
        ("R1-C3", "mixes 'R' and 'C'"),
        ("R1 R2", "part references with commas"),
        (f"R1-R{MAX_REFS + 1}", "more than 5000 references"),
        (f"R1-R{MAX_REFS}, C1", "more than 5000 references"),
    ],
)
def test_refuses(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        expand_refs(text)
