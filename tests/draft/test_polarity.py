"""What lists say about polarity, in many languages and both ways."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import draft
from solderrisk.files.loading import load_library
from solderrisk.model.kit import Placement

LIBRARY = load_library()

# Everyday wordings; which way each one means is common knowledge of its language.
WITHOUT = [
    *("Unpolarized capacitor", "unpolarised", "non-polarized", "Non polarised", "nonpolar"),
    *("not polarized", "not polar", "bipolar electrolytic", "ungepolter Elko", "nicht gepolt"),
    *("condensateur non polarisé", "apolaire", "condensador no polarizado", "sin polaridad"),
    *("condensatore non polarizzato", "capacitor não polarizado", "sem polaridade"),
    *("niet-gepolariseerde condensator", "ongepolariseerd", "kondensator niespolaryzowany"),
    *("nepolarizovaný kondenzátor", "неполярный конденсатор", "无极性电容", "無極性コンデンサ"),
]
WITH = [
    *("Polarized capacitor", "polarised", "electrolytic 25 V", "tantalum", "Elko 105 °C"),
    *("gepolter Kondensator", "Tantal", "condensateur polarisé", "électrolytique", "tantale"),
    *("condensador electrolítico", "condensador polarizado", "condensatore elettrolitico"),
    *("capacitor eletrolítico", "gepolariseerd", "kondensator elektrolityczny", "tantalowy"),
    *(
        "elektrolytický kondenzátor",
        "электролитический",
        "полярный",
        "钽电容",
        "电解电容",
        "電解コンデンサ",
    ),
]
SILENT = ["ceramic X7R", "polypropylene film", "polyester", "NP0 50 V", "Multilayer", ""]


def placed(tmp_path: Path, ref: str, package: str, description: str) -> Placement:
    path = tmp_path / "list.csv"
    path.write_text(f'Ref,Value,Package,Description\n{ref},x,{package},"{description}"\n', "utf-8")
    return draft([path], LIBRARY).placements[0]


@pytest.mark.parametrize("words", WITHOUT)
def test_without_polarity(tmp_path: Path, words: str) -> None:
    assert placed(tmp_path, "C1", "C_0805_2012Metric", words).polarised is None
    assert placed(tmp_path, "C1", "CP_Radial_D5.0mm_P2.00mm", words).polarised is False


@pytest.mark.parametrize("words", WITH)
def test_with_polarity(tmp_path: Path, words: str) -> None:
    assert placed(tmp_path, "C1", "C_1206_3216Metric", words).polarised is True


@pytest.mark.parametrize("words", SILENT)
def test_nothing_said(tmp_path: Path, words: str) -> None:
    assert placed(tmp_path, "C1", "C_1206_3216Metric", words).polarised is None


def test_other_parts_keep_theirs(tmp_path: Path) -> None:
    assert placed(tmp_path, "D1", "SMA", "bidirectional suppressor").polarised is False
    assert placed(tmp_path, "Q1", "TO-92", "bipolar transistor").polarised is None
    assert placed(tmp_path, "D1", "LED_0805_2012Metric", "red").polarised is not False


@pytest.mark.parametrize(
    ("words", "package", "polarised"),
    [
        ("Zener diode 5V1", "0805", True),
        ("Gleichrichterdiode", "1206", True),
        ("диод", "1206", True),
        ("1N4148", "1206", True),
        ("tantalum 10 uF", "1206", True),
        ("bidirectional suppressor diode", "1206", None),
        ("ceramic 10 uF", "1206", None),
        ("resistor 10k", "1206", None),
        ("diode", "DO-35", None),  # the footprint tells it
        ("diode tester socket", "1x04_P2.54mm", None),
    ],
)
def test_lines_without_a_reference(
    tmp_path: Path, words: str, package: str, polarised: bool | None
) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"Qty,Part,Package\n2,{words},{package}\n", "utf-8")
    assert draft([path], LIBRARY).placements[0].polarised is polarised
