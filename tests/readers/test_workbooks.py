"""Workbooks with a cell far outside, however it is written: refused in one line, in little room.

The files are made here; one process drafts them all, since a fault of the library that reads
workbooks would end it, and its greatest size is asked of the system.
"""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from solderrisk.files.text import FileProblems
from solderrisk.readers.formats import read_source

BOMS = Path(__file__).parent / "fixtures" / "bom"
MOST_MB = 200
HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
TYPES = HEAD + (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships'
    '+xml"/><Default Extension="xml" ContentType="application/xml"/></Types>'
)
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
DRAW = r"""
import json, re, sys
from pathlib import Path
from solderrisk.draft.drafting import draft
from solderrisk.files.text import FileProblems
from solderrisk.model.library import Library
told = {}
for name in sys.argv[1:]:
    try:
        told[name] = ["drafted", str(len(draft([Path(name)], Library()).lines))]
    except FileProblems as error:
        told[name] = [str(problem) for problem in error.problems]
status = Path("/proc/self/status")  # since the start of this program, not of its parent
peak = re.search(r"VmHWM:\s*(\d+)", status.read_text())[1] if status.exists() else 0
print(json.dumps({"told": told, "mb": int(peak) / 1024}))
"""


def drafted(paths: list[Path]) -> tuple[dict[str, list[str]], float]:
    done = subprocess.run(
        [sys.executable, "-c", DRAW, *map(str, paths)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-500:]
    answer = json.loads(done.stdout)
    return answer["told"], answer["mb"]


def workbook(path: Path, sheet: str, member: str = "xl/worksheets/sheet1.xml") -> Path:
    target = member.removeprefix("xl/")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr(
            "_rels/.rels",
            f'{HEAD}<Relationships xmlns="{PACKAGE}"><Relationship Id="a" Type="{RELATIONS}/'
            'officeDocument" Target="xl/workbook.xml"/></Relationships>',
        )
        archive.writestr(
            "xl/workbook.xml",
            f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{RELATIONS}"><sheets>'
            '<sheet name="Parts" sheetId="1" r:id="b"/></sheets></workbook>',
        )
        archive.writestr(
            "xl/_rels/workbook.xml.rels",
            f"{HEAD}<Relationships xmlns='{PACKAGE}'><Relationship Target='{target}' "
            f"Type='{RELATIONS}/worksheet' Id='b'/></Relationships>",
        )
        archive.writestr(member, sheet)
    return path


def cell(place: str, text: str, prefix: str = "", quote: str = '"', blank: str = "") -> str:
    q, p = quote, prefix
    return (
        f"<{p}c t={q}inlineStr{q} r={q}{place}{q}>{blank}<{p}is><{p}t>{text}</{p}t></{p}is></{p}c>"
    )


def sheet_xml(prefix: str, quote: str, dimension: str, last: str) -> str:
    p, q = prefix, quote
    heads = "".join(
        cell(f"{'ABC'[i]}1", word, p, q) for i, word in enumerate(("Ref", "Value", "Package"))
    )
    name = f"xmlns:{p[:-1]}" if p else "xmlns"
    size = f"<{p}dimension ref={q}{dimension}{q}/>" if dimension else ""
    return (
        f"{HEAD}<{p}worksheet {name}={q}{MAIN}{q}>{size}<{p}sheetData><{p}row r={q}1{q}>{heads}"
        f"</{p}row>{last}</{p}sheetData></{p}worksheet>"
    )


def far_cells(prefix: str, quote: str, blank: str) -> Iterator[str]:
    p, q = prefix, quote
    for place in ("XFD1048576", "CZZ30000", "ALL100000", "all100000"):
        yield f"<{p}row>{cell(place, 'x', p, q, blank)}</{p}row>"
        yield f"<{p}row><{p}c t={q}n{q} r={q}{place}{q}>{blank}<{p}v>1</{p}v></{p}c></{p}row>"
        inner = f"{blank}<{p}f>1</{p}f><{p}v>1</{p}v>"
        yield f"<{p}row><{p}c r={q}{place}{q} t={q}n{q}>{inner}</{p}c></{p}row>"
    # The column is said before, the row by its own number.
    near = f"<{p}c r={q}ALL2{q}><{p}v>1</{p}v></{p}c>"
    yield f"<{p}row>{near}</{p}row><{p}row r={q}100000{q}><{p}c><{p}v>1</{p}v></{p}c></{p}row>"


def test_far_cells_are_refused_however_they_are_written(tmp_path: Path) -> None:
    paths = []
    styles = itertools.product(("", "x:"), ('"', "'"), ("", " \n"), ("", "A1:XFD1048576"))
    for prefix, quote, blank, dimension in styles:
        for last in far_cells(prefix, quote, blank):
            sheet = sheet_xml(prefix, quote, dimension, last)
            member = "xl/worksheets/sheet1.xml" if len(paths) % 2 else "xl/elsewhere/s.xml"
            paths.append(workbook(tmp_path / f"far{len(paths)}.xlsx", sheet, member))
    told, mb = drafted(paths)
    wrong = {name: lines for name, lines in told.items() if "far outside" not in lines[0]}
    assert wrong == {}
    assert all(len(lines) == 1 and "\n" not in lines[0] for lines in told.values())
    assert len(told) > 200
    assert mb < MOST_MB


def test_a_dimension_alone_is_no_reason_to_refuse(tmp_path: Path) -> None:
    row = "".join(cell(f"{'ABC'[i]}2", word) for i, word in enumerate(("R1", "10k", "0805")))
    sheet = sheet_xml("", '"', "A1:XFD1048576", f'<row r="2">{row}</row>')
    told, mb = drafted([workbook(tmp_path / "list.xlsx", sheet)])
    assert list(told.values()) == [["drafted", "1"]]
    assert mb < MOST_MB


VALUE = '<table:table-cell office:value-type="string"><text:p>x</text:p></table:table-cell>'
FAR = {
    "columns": f'<table:table-row><table:table-cell table:number-columns-repeated="16000"/>{VALUE}'
    f'</table:table-row><table:table-row table:number-rows-repeated="1000000"/>'
    f"<table:table-row>{VALUE}</table:table-row>",
    "rows": f"<table:table-row table:number-rows-repeated='1000001'>{VALUE}</table:table-row>",
    "plain text": '<table:table-row table:number-rows-repeated="90000"><table:table-cell '
    "table:number-columns-repeated='1000'><text:p>x</text:p></table:table-cell></table:table-row>",
    "covered": '<table:table-row table:number-rows-repeated="90000"><table:covered-table-cell '
    'office:value="1" table:number-columns-repeated="1000"/></table:table-row>',
}


def test_far_repeats_of_open_documents_are_refused(tmp_path: Path) -> None:
    paths = []
    for name, rows in FAR.items():
        for other in (rows, rows.replace("table:", "t:").replace("office:", "o:")):
            path = tmp_path / f"{name}{len(paths)}.ods"
            with zipfile.ZipFile(path, "w") as archive:
                archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
                archive.writestr(
                    "content.xml",
                    '<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="p" '
                    'xmlns:t="t" xmlns:o="o"><office:body><office:spreadsheet>'
                    f'<table:table table:name="Parts">{other}</table:table>'
                    "</office:spreadsheet></office:body></office:document-content>",
                )
            paths.append(path)
    told, mb = drafted(paths)
    assert {name: t for name, t in told.items() if "far outside" not in t[0]} == {}
    assert mb < MOST_MB


def test_old_workbooks_are_read_by_a_process_of_their_own() -> None:
    lines = read_source(BOMS / "plain.xls")[1].lines
    assert [(line.refs, line.package, line.quantity) for line in lines] == [
        (("R1", "R2"), "R_0805_2012Metric", 2),
        (("U1",), "SOIC-8", 1),
    ]
    told, mb = drafted([BOMS / "far.xls"])
    assert "far outside" in next(iter(told.values()))[0]
    assert mb < MOST_MB


def test_the_largest_list_and_an_endless_text_stay_small(tmp_path: Path) -> None:
    rows = "".join(f"<row>{'<c><v>1</v></c>' * 20}</row>" for _ in range(10_500))
    wide = workbook(tmp_path / "wide.xlsx", sheet_xml("", '"', "", rows))
    text = f'<row r="2">{cell("A2", "x" * 8_000_000)}</row>'
    long = workbook(tmp_path / "long.xlsx", sheet_xml("", '"', "", text))
    told, mb = drafted([wide, long])
    assert "draft it in pieces" in told[str(wide)][0]
    assert "letters" in told[str(long)][0]
    assert mb < MOST_MB


@pytest.mark.parametrize("inner", ['<!DOCTYPE a [<!ENTITY b "c">]>', "<a><b></a>", "<"])
def test_odd_xml_is_refused(tmp_path: Path, inner: str) -> None:
    path = workbook(tmp_path / "odd.xlsx", inner + sheet_xml("", '"', "", ""))
    with pytest.raises(FileProblems) as caught:
        read_source(path)
    assert "save it as CSV" in str(caught.value)
