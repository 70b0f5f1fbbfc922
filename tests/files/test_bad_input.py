"""Bad files through the command line: one line with place and remedy, status 2, no trace."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.cli import run

KIT = """\
name: lamp
boards: [{name: main}]
donors: [{name: old, board: {name: old-board}}]
placements:
- {refs: R1-R4, footprint: 0603, board: main}
- {refs: U1, footprint: SOIC-8, board: main, donor: old}
lifts: []
gates:
- {ref: g1, title: One, after: [U1]}
- {ref: g2, title: Two, after: [g1]}
"""

# What is written into kit.yaml, the place told behind its name, words of the remedy.
BAD: dict[str, tuple[bytes, str, str]] = {
    "wrong type": (KIT.replace("R1-R4", "[1, 2]").encode(), ":5:4:", "must be text"),
    "negative pitch": (
        KIT.replace("lifts: []", "footprints: [{name: X, family: sip, source: assumed, body: "
        "{length_mm: 1, width_mm: 1, height_mm: 1}, pads: [{kind: wire, count: 2, pitch_mm: -1, "
        "land_w_mm: 1, land_l_mm: 1}]}]").encode(), ":7:", "must be greater than 0",
    ),
    "unknown footprint": (KIT.replace("SOIC-8", "SOIC-9").encode(), ":6:", "did you mean"),
    "unknown unit": (
        KIT.replace("{name: main}", "{name: main, width_mm: 3 spans}").encode(), ":2:23:",
        "allowed: mm, um, mil, in",
    ),
    "cyclic gates": (KIT.replace("[U1]", "[g2]").encode(), ":9:", "drop one of these"),
    "no such board": (KIT.replace("8, board: main", "8, board: mane").encode(), ":6:",
        "did you mean 'main'?"),
    "lift from no donor": (
        KIT.replace("[]", "[{ref: X1, donor: none, footprint: SOIC-8}]").encode(), ":7:",
        "allowed: old",
    ),
    "quantity 0": (KIT.replace("refs: U1", "quantity: 0, refs: U1").encode(), ":6:4:",
        "must be at least 1"),
    "unknown board material": (
        KIT.replace("{name: main}", "{name: main, material: bakelite}").encode(), ":2:23:",
        "phenolic_paper, cem1",
    ),
    "planes on a one-layer phenolic board": (
        KIT.replace("{name: main}",
        "{name: main, material: phenolic_paper, plane_layers: 1}").encode(),
        ":2:10:", "write plane_layers: 0",
    ),
    "a link to planes that are not there": (
        KIT.replace("{name: main}", "{name: main, material: phenolic_paper}").replace(
            "board: main}", "board: main, links: [{group: pins, planes: 1}]}").encode(),
        ":5:", "write planes: 0",
    ),
    "a link that finds no pad": (
        KIT.replace("8, board: main", "8, links: [{planes: 2}], board: main").encode(),
        ":6:", "write group: pins",
    ),
    "film without a thickness": (
        KIT.replace("{name: main}", "{name: main, material: polyimide_film}").encode(), ":2:10:",
        "measure the board",
    ),
    "negative mass": (
        KIT.replace("lifts: []", "footprints: [{name: X, family: sip, source: assumed, body: "
        "{length_mm: 1, width_mm: 1, height_mm: 1, mass_g: -3}, pads: [{kind: wire, count: 1, "
        "land_w_mm: 1, land_l_mm: 1}]}]").encode(), ":7:", "must be greater than 0",
    ),
    "a wire without a cross-section": (
        KIT.replace("lifts: []",
        "wires: [{ref: W1, board: main, connections: 1, insulation: enamel}]").encode(),
        ":7:9:", "write the cross-section",
    ),
    "10 MB": (b"- [a, b, c, d, e]\n" * 560_000, ":", "larger than 2 MB; split the file"),
    "deep": (b"a: " + b"[" * 100_000, ":1:", "flatten it"),
    "aliases": (
        "\n".join(["a0: &a0 [x, x, x]", *(f"a{n}: &a{n} [{f'*a{n - 1}, ' * 9}]"
        for n in range(1, 12))]).encode(), ":", "split the file",
    ),
    "not UTF-8": ("name: größe".encode("latin-1"), ":1:9:", "save the file as UTF-8"),
    "empty": (b"", ":1:1:", "expected keys: name, title"),
    "binary": (b"\x89PNG\r\n\x1a\n\0\0", ":1:1:", "not UTF-8 text"),
    "no kit at all": (b"just a sentence", ":1:1:", "must be keys with values"),
}  # fmt: skip


def told(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> list[str]:
    before = sorted(path.parent.iterdir())
    status = run(["assess", str(path), "--bench", "bare", "--builder", "newcomer", *more])
    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    assert sorted(path.parent.iterdir()) == before
    return err.splitlines()


@pytest.mark.parametrize(("data", "place", "remedy"), BAD.values(), ids=BAD)
def test_a_bad_kit(
    data: bytes, place: str, remedy: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "kit.yaml"
    path.write_bytes(data)
    (line,) = told(path, capsys)
    assert line.startswith(f"{path}{place}")
    assert remedy in line


def test_a_folder_and_a_missing_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(tmp_path, capsys) == [f"{tmp_path}: this is a folder; name a file in it"]
    missing = tmp_path / "kit.yaml"
    assert told(missing, capsys) == [f"{missing}: no such file; check the path"]


def test_bad_bench_and_builder_are_told_with_the_kit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("kit", "bench", "builder"):
        (tmp_path / name).write_text("nmae: x", encoding="utf-8")
    kit, bench, builder = (tmp_path / name for name in ("kit", "bench", "builder"))
    lines = told(kit, capsys, "--bench", str(bench), "--builder", str(builder))
    for path in (kit, bench, builder):
        assert any(line.startswith(f"{path}:1:1: nmae: unknown key 'nmae'") for line in lines)
