"""Alloys and mixtures against alloy tables, diagrams and sums done by hand."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.physics.low_melt import liquidus_c, mix_parts, mole_shares

DATA = physics_data()
ALLOYS = DATA.alloys

# Alloy tables after J-STD-006: solidus, liquidus.
MELTING = [
    ("Sn63Pb37", 183, 183), ("Sn60Pb40", 183, 190), ("SAC305", 217, 220),
    ("Sn99.3Cu0.7", 227, 227), ("Sn96.5Ag3.5", 221, 221), ("Sn62Pb36Ag2", 179, 179),
    ("Sn42Bi58", 138, 138), ("In52Sn48", 118, 118), ("Bi58Pb42", 124, 126),
    ("Bi50Pb26.7Sn13.3Cd10", 70, 70),
]  # fmt: skip


@pytest.mark.parametrize(("name", "solidus", "liquidus"), MELTING)
def test_melting_ranges(name: str, solidus: float, liquidus: float) -> None:
    alloy = ALLOYS[name]
    assert alloy.solidus_c == pytest.approx(solidus, abs=1)
    assert alloy.liquidus_c == pytest.approx(liquidus, abs=1)


# Densities of the elements, CRC Handbook of Chemistry and Physics; of alloys, alloy tables.
ELEMENTS = {"Sn": 7.31, "Pb": 11.35, "Ag": 10.49, "Cu": 8.96}


@pytest.mark.parametrize(
    ("name", "table"),
    [("Sn63Pb37", 8.40), ("Sn60Pb40", 8.50), ("SAC305", 7.38), ("SAC405", 7.44)],
)
def test_density_by_mixing(name: str, table: float) -> None:
    alloy = ALLOYS[name]
    assert alloy.density_g_cm3 == pytest.approx(table, rel=1e-3)
    mixed = sum(alloy.parts.values()) / sum(
        share / ELEMENTS[metal] for metal, share in alloy.parts.items()
    )
    assert mixed == pytest.approx(alloy.density_g_cm3, rel=0.01)


# Binary diagrams, ASM Handbook volume 3: eutectics. Fitted, so a regression to 6 K.
@pytest.mark.parametrize(
    ("parts", "eutectic"),
    [({"Sn": 61.9, "Pb": 38.1}, 183), ({"Sn": 43, "Bi": 57}, 139), ({"Bi": 55.5, "Pb": 44.5}, 125)],
)
def test_binary_eutectics(parts: dict[str, float], eutectic: float) -> None:
    assert liquidus_c(parts, ALLOYS) == pytest.approx(eutectic, abs=6)


def test_the_ternary_eutectic_was_never_fitted() -> None:
    """Bi 52.5 Pb 32 Sn 15.5 melts at 95 to 96 C (alloy tables)."""
    found = liquidus_c({"Bi": 52.5, "Pb": 32, "Sn": 15.5}, ALLOYS)
    assert found == pytest.approx(96, abs=DATA.parameters["mix_doubt_k"])


@pytest.mark.parametrize(("metal", "melts"), [("Sn", 231.9), ("Pb", 327.5), ("Bi", 271.4)])
def test_pure_metals_melt_where_they_melt(metal: str, melts: float) -> None:
    """CRC Handbook of Chemistry and Physics."""
    assert liquidus_c({metal: 100.0}, ALLOYS) == pytest.approx(melts, abs=0.1)


def test_dilute_melts_follow_van_t_hoff() -> None:
    """Freezing falls by R Tm^2 x / H for a solute that stays in the melt: 1 mole % of
    copper in tin lowers 231.9 C by 3.0 K (8.314 x 505.05^2 x 0.01 / 7030)."""
    x_cu = 0.01
    mass_cu = x_cu * 63.55
    mass_sn = (1 - x_cu) * 118.71
    scale = 100.0 / (mass_cu + mass_sn)
    found = liquidus_c({"Sn": mass_sn * scale, "Cu": mass_cu * scale}, ALLOYS)
    # The little that solid tin is allowed to dissolve takes back a fifth of it.
    assert 231.9 - found == pytest.approx(3.0 * (1 - 0.218), abs=0.1)


def test_mole_shares_of_the_tin_lead_eutectic() -> None:
    """61.9 % by mass is 73.9 % by atoms (ASM Handbook volume 3)."""
    assert mole_shares({"Sn": 61.9, "Pb": 38.1}, ALLOYS)["Sn"] == pytest.approx(0.739, abs=0.001)


def test_mixture_by_hand() -> None:
    """Three parts Sn42Bi58 on one part Sn63Pb37: Bi 43.5, Sn 47.25, Pb 9.25 %."""
    parts = mix_parts(ALLOYS["Sn63Pb37"], ALLOYS["Sn42Bi58"], 0.75)
    assert parts == pytest.approx({"Sn": 47.25, "Pb": 9.25, "Bi": 43.5})
    assert sum(parts.values()) == pytest.approx(100.0)


def test_names_are_found_however_they_are_written() -> None:
    assert ALLOYS["sn63 pb37"].name == ALLOYS["SnPb"].name == ALLOYS["63/37"].name == "Sn63Pb37"
    with pytest.raises(KeyError, match="there are"):
        ALLOYS["Unobtainium"]
