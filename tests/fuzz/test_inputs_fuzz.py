"""Damaged and hostile source files: never a traceback, a hang or a memory blow-up.

Whatever happens to a file, a draft either comes out or the file is refused in one line.
"""

from __future__ import annotations

import io
import random
import time
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from solderrisk.draft.drafting import draft
from solderrisk.draft.write import kit_yaml, report_text, round_trip
from solderrisk.files.text import FileProblems
from solderrisk.model.library import Library

FIXTURES = Path(__file__).parents[1] / "readers" / "fixtures"
SEEDS = sorted(
    path
    for folder in ("bom", "board", "centroid", "fabrication")
    for path in (FIXTURES / folder).iterdir()
)
LIMIT_S = 10.0


def survives(*paths: Path) -> None:
    """Draft the files; every refusal is a list of one-line problems, and quick."""
    start = time.process_time()
    refusals: list[str] | None = None
    try:
        made = draft(list(paths), Library())
        report_text(made)
        text = kit_yaml(made)
        if made.placements:
            round_trip(text)
    except FileProblems as error:
        refusals = [str(problem) for problem in error.problems]
    assert refusals is None or (refusals and not any("\n" in line for line in refusals))
    assert time.process_time() - start < LIMIT_S


def mutated(data: bytes, rng: random.Random) -> bytes:
    """One of the usual accidents, or several."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 6)):
        if not out:
            break
        at = rng.randrange(len(out))
        what = rng.randrange(7)
        if what == 0:
            out[at] = rng.randrange(256)
        elif what == 1:
            del out[at : at + rng.randrange(1, 40)]
        elif what == 2:
            out[at:at] = bytes(
                rng.choice(b"(),;\"'\t\n%*0-9eE.X") for _ in range(rng.randint(1, 8))
            )
        elif what == 3:
            piece = out[at : at + rng.randrange(1, 60)]
            out[at:at] = piece * rng.randint(1, 20)
        elif what == 4:
            del out[at:]
        elif what == 5:
            out[at:at] = rng.choice(
                [b"1e308", b"-99999999999", b"nan", b"NaN", b"inf", b"\xff\xfe", b"\x00"]
            )
        else:
            out[at : at + 4] = out[at : at + 4][::-1]
    return bytes(out)


@pytest.mark.parametrize("seed", SEEDS, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_mutated_files(seed: Path, tmp_path: Path) -> None:
    rng = random.Random(seed.name)
    data = seed.read_bytes()
    path = tmp_path / seed.name
    for _ in range(12 if len(data) < 3000 else 5):
        path.write_bytes(mutated(data, rng))
        survives(path)


@given(st.binary(max_size=400))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_bytes(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.bin"
    path.write_bytes(data)
    survives(path)


CELL = st.text(
    alphabet=st.sampled_from("RCULD0123456789-_,;. xXpPmM()\"'/\\µΩ\u0600\ud7ff*?#=:~"), max_size=18
)


@given(
    st.lists(st.lists(CELL, min_size=1, max_size=5), min_size=1, max_size=8),
    st.sampled_from(",;\t"),
)
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_table_below_a_header(tmp_path: Path, rows: list[list[str]], delimiter: str) -> None:
    lines = [delimiter.join(("Reference", "Value", "Footprint", "Qty", "Description"))]
    lines += [delimiter.join(row) for row in rows]
    path = tmp_path / "list.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    survives(path)


@given(st.text(alphabet='()" \n.-0123456789kicad_pcbfootprintpadatsize', max_size=300))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_expression(tmp_path: Path, text: str) -> None:
    path = tmp_path / "b.kicad_pcb"
    path.write_text("(kicad_pcb " + text)
    survives(path)


@pytest.mark.parametrize(
    "head",
    [
        "",
        "(kicad_pcb ",
        "(footprint X ",
        "M48\n",
        "%FSLAX46Y46*%\n",
        "P  UNITS CUST 0\n327",
        "PK\x03\x04",
    ],
)
def test_a_sparse_gigabyte_is_refused_unread(tmp_path: Path, head: str) -> None:
    path = tmp_path / "big"
    with path.open("wb") as file:
        file.write(head.encode())
        file.truncate(1 << 30)
    start = time.process_time()
    with pytest.raises(FileProblems, match="larger than"):
        draft([path], Library())
    assert time.process_time() - start < 1.0


@pytest.mark.parametrize(
    "head",
    ["Ref,Value,Package\n", "(kicad_pcb ", "%FSLAX46Y46*%\nX", "M48\nT1C", "P  UNITS CUST 0\n327"],
)
@pytest.mark.parametrize("letter", ["a", "(", '"', "9", "%"])
def test_endless_lines(tmp_path: Path, head: str, letter: str) -> None:
    path = tmp_path / "long"
    path.write_text(head + letter * 1_500_000)
    survives(path)


def test_zip_bombs_are_refused(tmp_path: Path) -> None:
    plain = (FIXTURES / "bom" / "plain.xlsx").read_bytes()
    path = tmp_path / "bomb.xlsx"
    with (
        zipfile.ZipFile(io.BytesIO(plain)) as source,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as bomb,
    ):
        for info in source.infolist():
            bomb.writestr(info, source.read(info))
        with bomb.open("xl/worksheets/sheet9.xml", "w", force_zip64=True) as member:
            for _ in range(130):
                member.write(b" " * 1_000_000)
    assert path.stat().st_size < 1_000_000
    start = time.process_time()
    with pytest.raises(FileProblems, match="unpacks to"):
        draft([path], Library())
    assert time.process_time() - start < LIMIT_S


def test_a_zip_that_lies_about_its_size(tmp_path: Path) -> None:
    path = tmp_path / "liar.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 3_000_000)
    data = path.read_bytes().replace((3_000_000).to_bytes(4, "little"), (30).to_bytes(4, "little"))
    path.write_bytes(data)
    survives(path)


def test_many_repeated_cells_of_an_open_document(tmp_path: Path) -> None:
    path = tmp_path / "wide.ods"
    cell = (
        '<table:table-row table:number-rows-repeated="1000000"><table:table-cell '
        'office:value-type="float" office:value="1" '
        'table:number-columns-repeated="16000"/></table:table-row>'
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr(
            "content.xml", f"<office:document-content><table:table>{cell}</table:table>"
        )
    with pytest.raises(FileProblems, match="far outside"):
        draft([path], Library())


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("deep.kicad_pcb", b"(kicad_pcb " + b"(a " * 100_000),
        (
            "pads.kicad_mod",
            b"(footprint X " + b'(pad "1" smd rect (at 0 0) (size 1 1)) ' * 6000 + b")",
        ),
        ("wide.csv", b"Ref,Value,Package" + b",x" * 60_000 + b"\nR1,1k,0805\n"),
        ("tall.csv", b"Ref,Value,Package\n" + b"R1,1k,0805\n" * 30_000),
        ("refs.csv", b"Ref,Value,Package\n" + b"R1-R4999 R1-R4999 R1-R4999,1k,0805\n" * 40),
        ("quotes.csv", b'Ref,Value,Package\n"' * 4_000),
        ("field.csv", b'Ref,Value,Package\nR1,"' + b"x" * 150_000 + b'",0805\n'),
        (
            "huge_numbers.kicad_pcb",
            b"(kicad_pcb (footprint X (at 1e300 1e300)"
            b" (pad 1 smd rect (at 1e308 0) (size 1e308 1e308) (layers F.Cu))"
            b" (pad 2 smd rect (at 0 0) (size 1 1))))",
        ),
        ("odd_unicode.csv", "Ref,Value,Package\nR1,\u202e1k\u0000,0805\n".encode()),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_hostile_shapes(tmp_path: Path, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    survives(path)
