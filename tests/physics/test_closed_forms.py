"""Closed forms worked out beside each: volumes of solder, lumps of wires, the sheet's terms, the
jet's far field, and the plate's matrix. They hold every term of a formula in its place."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import HotPlate, Tip
from solderrisk.model.footprint import Body, Lead, PadGroup
from solderrisk.model.kit import PlaneLink
from solderrisk.physics.air_net import (
    Jets,
    _edges,
    _swept_d,
    arriving_share,
    jet_of,
    martin_nusselt,
    mean_h,
    part_under_air,
    ring_h,
)
from solderrisk.physics.board import Sheet, sheet_round, whole_sheet
from solderrisk.physics.hot_air import _at, _radius_mm, _ramp_k_s
from solderrisk.physics.iron import _at_insulation, iron_inputs
from solderrisk.physics.joint import (
    JointLumps,
    body_j_k,
    joint_lumps,
    joint_metal,
    lead_w_k,
    rod_of,
)
from solderrisk.physics.low_melt import _along_mm, _cleanings, _rings, low_melt_lift
from solderrisk.physics.march import IronMarch, rings_round
from solderrisk.physics.plate import BODY, BOTTOM, JOINT, NODES, PLATE, SLABS, _net, _settled
from solderrisk.physics.results import JointCase, PlateCase
from solderrisk.physics.solder_volume import (
    BarrelRule,
    added_flux_mg,
    joint_volume_mm3,
    ring_fillet_mm3,
)
from tests.heat_joints import (
    BGA_256,
    CARTRIDGE_120,
    CHIP_0402,
    PLAIN_25,
    QFP_48,
    SAC,
    SNPB,
    SOIC_8,
    STATION_60,
    TAB,
    air_on,
    board,
    footprint,
    joint,
    tip_on,
)
from tests.shapes import group, part

DATA = physics_data()
P = DATA.parameters
F = 1 - math.pi / 4  # a square less its quarter circle
THIN_COAT = replace(
    DATA, handwork=DATA.handwork.replaced({"land_coat_mm": 0.02, "solder_film_mm": 0.05})
)


def solder(pads: PadGroup, body: tuple[float, float, float], **more: Any) -> float:
    family = "dip" if pads.hole_mm else "other_smd"
    return joint_volume_mm3(part(family, *body, pads), pads, board(1, **more), THIN_COAT)


# --- solder


def foot(land_w: float, land_l: float, **lead: float) -> PadGroup:
    return group("gull_wing", 1, land_w, land_l, lead={"thickness_mm": 0.2, **lead})


@pytest.mark.parametrize(
    ("pads", "film", "coat", "fillets"),
    [
        # Foot 0.8 x 0.4 on 2.0 x 0.6: 0.1 mm free beside it, 0.6 before and behind.
        (foot(0.6, 2.0, width_mm=0.4, foot_mm=0.8), 0.32, 0.88, 2 * 0.08 + 2 * 0.24),
        # A lead wider than its land ends with the land.
        (foot(0.6, 2.0, width_mm=0.8, foot_mm=0.8), 0.48, 0.72, 2 * 0.36),
        # A fillet reaches no further than 1 mm, however long the land.
        (foot(0.6, 5.0, width_mm=0.4, foot_mm=1.0), 0.4, 2.6, 2 * 0.1 + 2 * 0.4),
        # A foot of no stated length is as long as it is wide.
        (foot(0.4, 0.4, width_mm=0.4), 0.16, 0.0, 0.0),
    ],
)
def test_a_foot_s_film_coat_and_four_fillets(
    pads: PadGroup, film: float, coat: float, fillets: float
) -> None:
    """Film 0.05 mm, bare land 0.02 mm, fillets 0.2 mm high with a quarter circle cut out."""
    expected = 0.05 * film + 0.02 * coat + F * 0.2 * fillets
    assert solder(pads, (4.0, 4.0, 1.0)) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("span", "lead_w", "height", "under", "fillet"),
    [
        # Body 2.0 x 1.2: lands from 0.6 to 1.4 mm off the middle, so 0.4 mm of toe.
        (2.0, None, 0.5, 1.0 * 0.4, 1.0 * 0.3 * 0.4),
        (None, None, 0.5, 1.0 * 0.4, 1.0 * 0.3 * 0.4),
        (2.0, 0.6, 0.5, 0.6 * 0.4, 0.6 * 0.3 * 0.4),
        (6.0, None, 0.5, 0.0, 1.0 * 0.3 * 0.8),
        (2.0, None, 3.0, 1.0 * 0.4, 1.0 * 1.0 * 0.4),
    ],
)
def test_a_chip_s_end(
    span: float | None, lead_w: float | None, height: float, under: float, fillet: float
) -> None:
    """Fillets rise to 0.6 of the end (1 mm at most)."""
    lead = None if lead_w is None else {"width_mm": lead_w, "thickness_mm": 0.2}
    where = (
        {"layout": "explicit", "at": [[-1, 0], [1, 0]]}
        if span is None
        else {"layout": "ends", "row_span_mm": span}
    )
    pads = group("chip_end", 2, 1.0, 0.8, lead=lead, **where)
    assert solder(pads, (2.0, 1.2, height)) == pytest.approx(0.05 * under + F * fillet)


def test_a_castellation_s_fillet_on_half_of_its_land() -> None:
    edge = group("castellation", 1, 1.0, 2.4)
    assert solder(edge, (4.0, 4.0, 0.5)) == pytest.approx(2.4 * 0.05 + F * 0.5 * 1.2)
    assert solder(edge, (4.0, 4.0, 3.0)) == pytest.approx(2.4 * 0.05 + F * 1.0 * 1.2)


def pin(land_w: float, land_l: float, width: float, thickness: float, hole: float) -> PadGroup:
    lead = {"width_mm": width, "thickness_mm": thickness}
    return group("through_hole", 1, land_w, land_l, hole_mm=hole, lead=lead)


def test_a_barrel_round_a_flat_lead() -> None:
    """0.6 x 0.4 in a land of 1.6 x 2.0: 0.6 and 0.7 mm bare, the narrower makes the fillet; the
    hole of 1 mm less the lead is filled through 1.6 mm."""
    ring = ring_fillet_mm3(2 * (0.6 + 0.4), 0.6)
    filled = (math.pi / 4 - 0.24) * 1.6
    flat = pin(1.6, 2.0, 0.6, 0.4, 1.0)
    assert solder(flat, (4.0, 4.0, 3.0)) == pytest.approx(filled + 2 * ring)
    assert solder(flat, (4.0, 4.0, 3.0), plated_holes=False) == pytest.approx(ring)
    wide = pin(5.0, 6.0, 0.6, 0.4, 1.0)
    assert solder(wide, (9.0, 9.0, 3.0)) == pytest.approx(filled + 2 * ring_fillet_mm3(2.0, 1.0))
    # A lead that fills its hole and covers its land leaves no room for solder.
    full = pin(1.6, 2.0, 0.6, 0.4, 1.0).model_copy(
        update={"lead": Lead(width_mm=2.0, thickness_mm=1.6), "hole_mm": 1.5}
    )
    assert solder(full, (4.0, 4.0, 3.0)) == 0.0


def test_depths_of_fill_take_the_lesser() -> None:
    assert BarrelRule(0.75, 1.2, "assumed").least_mm(1.0) == pytest.approx(0.75)
    assert BarrelRule(0.75, 1.2, "assumed").least_mm(2.0) == 1.2
    assert BarrelRule(None, 1.2, "assumed").least_mm(1.0) == 1.2
    assert BarrelRule(0.75, None, "assumed").least_mm(2.0) == 1.5
    assert BarrelRule(None, None, "assumed").least_mm(2.0) is None


def test_flux_is_spread_over_rows_and_lone_lands() -> None:
    """0.3 mm of 1.07 g/cm3: eight lands 1.5 mm long at 1.27 mm, and one of 2 x 3 mm."""
    lone = group("tab", 1, 2.0, 3.0, name="tab")
    both = footprint("f", "soic", SOIC_8.body, SOIC_8.pads[0], lone)
    assert added_flux_mg(both, DATA) == pytest.approx((8 * 1.27 * 1.5 + 6.0) * 0.3 * 1.07)


# --- lumps


def wire(material: str, width: float, bare: float = 3.0, long: float = 200.0) -> JointCase:
    lead = Lead(width_mm=width, thickness_mm=width, length_mm=bare, round=True,
                material="tinned_copper", wire_mm=long)  # fmt: skip
    pad = PadGroup(kind="wire", count=1, land_w_mm=3.0, land_l_mm=3.0, lead=lead)
    body = Body.model_validate(
        {"length_mm": 3.0, "width_mm": 2.0, "height_mm": 1.0, "material": material}
    )
    return joint(footprint("w", "wire_pad", body, pad))


def test_a_wire_s_insulation() -> None:
    """Copper 1 mm thick in PVC of 0.25 + 0.35 = 0.6 mm: 2.2 mm over all; it lags by
    0.6^2 / 3a and loses through the wall and 16 W/m2K outside (Incropera, radial)."""
    rod = rod_of(wire("pvc", 1.0), DATA)
    assert rod is not None
    assert rod.lag_s == pytest.approx(0.36e-6 * 1.5e6 / (3 * 0.17))
    loss = 1 / (1 / (math.pi * 2.2e-3 * 16) + math.log(2.2) / (2 * math.pi * 0.17))
    assert rod.loss_w_mk == pytest.approx(loss)
    assert rod.j_mk == pytest.approx(math.pi / 4 * 1e-6 * 3.45e6)
    assert rod.bare_m == pytest.approx(3e-3)
    thick = rod_of(wire("pvc", 4.0), DATA)  # no wall beyond 1 mm; stripped for its thickness
    assert thick is not None
    assert thick.bare_m == pytest.approx(6e-3)
    short = rod_of(wire("silicone", 1.0, bare=5.0, long=4.0), DATA)
    assert short is not None
    assert short.length_m == pytest.approx(5e-3)
    assert short.lag_s == pytest.approx((1.2 * 0.6e-3) ** 2 * 1.5e6 / (3 * 0.25))


def test_leads_go_on_into_the_body_as_a_fin() -> None:
    """0.41 x 0.2 mm of 260 W/mK, 1 mm free, then buried in 0.7 W/mK with a shape factor of 3:
    sqrt(k A S k_body); on a heat sink only the free part counts."""
    free = 260 * 0.082e-6 / 1e-3
    buried = math.sqrt(260 * 0.082e-6 * 3 * 0.7)
    assert lead_w_k(joint(SOIC_8), DATA) == pytest.approx(1 / (1 / free + 1 / buried))
    body = SOIC_8.body.model_copy(update={"on_sink": True, "sink_g": 10.0})
    sunk = SOIC_8.model_copy(update={"body": body})
    assert lead_w_k(joint(sunk), DATA) == pytest.approx(free)
    assert body_j_k(body, DATA) - body_j_k(SOIC_8.body, DATA) == pytest.approx(9.0)
    usual = body.model_copy(update={"sink_g": None})
    assert body_j_k(usual, DATA) - body_j_k(SOIC_8.body, DATA) == pytest.approx(20 * 0.9)


def test_a_land_wider_than_its_body_conducts_over_the_body_alone() -> None:
    bare = group("exposed", 1, 4.0, 4.0)
    small = part("qfn", 2.0, 3.0, 1.0, bare)
    assert lead_w_k(joint(small), DATA) == pytest.approx(0.7 * 6e-6 / 0.5e-3)


@pytest.mark.parametrize(
    ("lead", "thick_mm"), [(None, 0.8), ({"width_mm": 3.0, "thickness_mm": 0.5}, 0.5)]
)
def test_a_tab_s_metal_lies_on_all_of_its_land(
    lead: dict[str, float] | None, thick_mm: float
) -> None:
    tab = group("tab", 1, 4.0, 3.0, lead=lead)
    _, held = joint_metal(joint(part("power_tab", 6.0, 6.0, 2.0, tab)), DATA)
    assert held == pytest.approx(12 * 0.035 * 3.45e-3 + 12 * thick_mm * 0.0034)


def test_a_wire_of_unknown_length_adds_its_core_to_the_body() -> None:
    """3 mm of copper, 1 mm thick, inside its insulation."""
    known = wire("pvc", 1.0)
    lead = known.group.lead
    assert lead is not None
    pad = known.group.model_copy(update={"lead": lead.model_copy(update={"wire_mm": None})})
    unknown = joint(known.footprint.model_copy(update={"pads": (pad,)}))
    more = joint_lumps(unknown, DATA).body_j_k - joint_lumps(known, DATA).body_j_k
    assert more == pytest.approx(math.pi / 4 * 3.0 * 0.00345)


# --- the sheet


def terms(sheet: Sheet) -> tuple[float, ...]:
    return (sheet.inner_m, sheet.sheet_w_k, sheet.copper_j_m2k, sheet.laminate_j_m2k,
            sheet.laminate_w_m2k, sheet.trace_w_k)  # fmt: skip


def test_terms_of_planes_and_of_a_bare_board() -> None:
    """FR-4 of 1.6 mm (0.8 along, 0.3 through, 2 MJ/m3K), 35 um of copper (390 W/mK, 3.45
    MJ/m3K) over 0.8 of a plane; a trace 0.25 mm wide is a fin on the board below it."""
    pads, link = TAB.pads[0], PlaneLink(group="tab", planes=6, spokes=2)
    spoked = sheet_round(pads, board(2), link, 2e-3, DATA)
    # There are no more planes than layers.
    wide = 2 * 0.8 * 35e-6
    inner = 2e-3 + link.spoke_gap_mm * 1e-3
    assert terms(spoked) == pytest.approx(
        (inner, wide * 390 + 0.8 * 1.6e-3, wide * 3.45e6, 3200.0, 4 * 187.5, 0.0)
    )
    spokes = 4 * 390 * 35e-6 * link.spoke_w_mm / link.spoke_gap_mm
    ring = 2 * math.pi * 0.8 * 1.6e-3 / math.log(inner / 2e-3)
    assert spoked.hub_w_k == pytest.approx(spokes + ring)
    plain = sheet_round(pads, board(2), None, 2e-3, DATA)
    trace = 0.25e-3 * math.sqrt(187.5 * 390 * 35e-6)
    assert terms(plain) == pytest.approx((2e-3, 0.8 * 1.4e-3, 2e6 * 1.4e-3, 0.0, 0.0, trace))
    assert plain.hub_w_k == math.inf


def test_a_whole_board_s_sheet_counts_broken_layers_in_part() -> None:
    spread, stored = whole_sheet(board(1, copper_layers=4), DATA)
    copper = (0.8 + 3 * P["broken_copper"]) * 35e-6
    assert spread == pytest.approx(copper * 390 + 0.8 * 1.6e-3)
    assert stored == pytest.approx(copper * 3.45e6 + 3200.0)


def test_what_a_land_and_its_board_are_as_disks() -> None:
    """4 x 4 mm is a disk of 2.257 mm; the board reaches at least twice as far as the land."""
    lumps = joint_lumps(joint(TAB, on=board(1, length_mm=100.0, width_mm=80.0)), DATA)
    assert lumps.outer_m == pytest.approx(math.sqrt(8000 / math.pi) * 1e-3)
    tiny = joint_lumps(joint(TAB, on=board(1, length_mm=5.0, width_mm=5.0)), DATA)
    assert tiny.outer_m == pytest.approx(2 * tiny.inner_m)


def test_rings_are_annuli_in_a_row() -> None:
    """Two rings from 1 to 4 mm part at 2 mm; between middles ln 2 / 2 pi k t."""
    one = np.ones(1)
    found = rings_round(1e-3 * one, 4e-3 * one, 0.02 * one, 300 * one, 3000 * one, 700 * one,
                        16 * one, 0.1 * one, 2)  # fmt: skip
    assert found.edge_m[:, 0] == pytest.approx([1e-3, 2e-3, 4e-3])
    area = math.pi * np.array([3e-6, 12e-6])
    assert found.capacity[:, 0] == pytest.approx(300 * area)
    assert found.loss[:, 0] == pytest.approx(16 * area)
    assert found.store.sum(axis=0)[:, 0] == pytest.approx(3000 * area)
    whole = 2 * math.pi * 0.02 / math.log(2)
    assert found.link[:, 0] == pytest.approx([1 / (0.5 / whole + 10), whole])


# --- the jet


def test_a_jet_at_its_nozzle() -> None:
    """40 l/min of 1.2 kg/m3 through 8 mm: Re is 4 m / (pi D mu)."""
    found = jet_of(40.0, 8.0, 16.0, 0.0, P)
    assert found.reynolds == pytest.approx(4 * 0.8e-3 / (math.pi * 8e-3 * 1.716e-5))
    assert (found.height_d, found.k_air) == pytest.approx((2.0, 0.0241))


def test_the_jet_beyond_its_correlation() -> None:
    """Held under the nozzle; beyond 7.5 diameters the local value falls as r^-1.2, so what rings
    get in total keeps the slope that it had there. Rings add up to the mean."""
    jet = jet_of(40.0, 8.0, 16.0, 100.0, P)
    jets = Jets.of([jet])

    def mean(d: float) -> float:
        return float(mean_h(jets, np.array([d * 8e-3]), P)[0])

    core, reach = 0.5 / math.sqrt(0.04), 7.5
    nusselt = float(martin_nusselt(jet.reynolds, 0.69, 4.0, 2.0))
    assert mean(4.0) == pytest.approx(nusselt * jet.k_air / 8e-3)
    assert mean(core / 2) == mean(core)
    assert mean(reach + 1e-6) == pytest.approx(mean(reach), rel=1e-5)

    def local(d: float) -> float:
        near, far = d * 0.999, d * 1.001
        return (mean(far) * far**2 - mean(near) * near**2) / (far**2 - near**2)

    assert local(15.0) / local(30.0) == pytest.approx(2**1.2, rel=1e-3)
    assert local(7.6) == pytest.approx(local(7.4), rel=0.05)
    edge = np.array([0.0, 2.0, 5.0, 9.0, 12.0])[:, None] * 8e-3
    rings = ring_h(jets, edge, P) * np.diff(edge**2, axis=0)
    assert rings.sum() == pytest.approx(mean(12.0) * float(edge[-1, 0]) ** 2)


def test_what_arrives_falls_in_a_line_and_then_as_the_distance() -> None:
    found = arriving_share(np.array([0.0, 1.0, 1.4, 2.8]), 0.1, 1.4)
    assert found == pytest.approx([1.0, 0.9, 0.86, 0.43])


def test_rings_of_a_part_under_air() -> None:
    """Five even ones to the part's rim, then growing ones to the board's."""
    edge = _edges(board(1, length_mm=100.0, width_mm=80.0), 5e-3)
    assert edge[:6] == pytest.approx(np.arange(6) * 1e-3)
    assert edge[-1] == pytest.approx(math.sqrt(8000 / math.pi) * 1e-3)
    assert np.diff(np.log(edge[5:])) == pytest.approx(np.full(14, math.log(edge[-1] / 5e-3) / 14))
    assert _edges(board(1, length_mm=5.0, width_mm=5.0), 5e-3)[-1] == pytest.approx(10e-3)


def test_joints_stand_on_the_ring_of_their_distance() -> None:
    """Leads on the rim stand in the rings there, balls and pads below in the first."""
    below = group("exposed", 1, 3.0, 3.0, name="pad")
    padded = QFP_48.model_copy(update={"pads": (QFP_48.pads[0], below)})
    found = part_under_air(air_on(padded, 8.0, 40.0), DATA)
    assert found.joint_rings == (4, 0)
    assert found.edge_m[5] == pytest.approx(
        1.05 * math.sqrt(np.mean([4.2**2 + (0.5 * (k - 5.5)) ** 2 for k in range(12)])) * 1e-3
    )
    assert found.joints_w_k[4] == pytest.approx(48 * 260 * 0.22 * 0.15e-3 / 1.0)
    # A field of balls 15.4 mm wide under a nozzle of 10 mm.
    assert _swept_d(air_on(BGA_256, 10.0, 40.0)) == pytest.approx(1.54)
    assert _swept_d(air_on(BGA_256, 20.0, 40.0)) == 1.0


def test_reading_a_run_between_its_rows() -> None:
    time_s = np.array([0.0, 1.0, 3.0])
    rows = np.array([[0.0, 10.0], [1.0, 20.0], [5.0, 60.0]])
    assert _at(2.0, time_s, rows).tolist() == [3.0, 40.0]
    assert _at(0.5, time_s, rows).tolist() == [0.5, 15.0]
    assert _at(1.0, time_s, rows).tolist() == [1.0, 20.0]
    assert _at(3.0, time_s, rows).tolist() == [5.0, 60.0]


def test_the_outermost_place_at_a_temperature() -> None:
    radius, hot = np.array([1.0, 2.0, 4.0]), np.array([200.0, 100.0, 50.0])
    assert [_radius_mm(radius, hot, c) for c in (250.0, 200.0, 150.0, 75.0, 50.0, 40.0)] == [
        0.0, 1.0, 1.5, 3.0, 4.0, 4.0,
    ]  # fmt: skip


def test_a_ramp_is_counted_from_the_soak_s_end() -> None:
    """200 K in 4 s: 50 K/s from the soak's 100 K; over all where the soak is never left."""
    time_s, top = np.arange(5.0), np.array([0.0, 20.0, 100.0, 150.0, 200.0])
    assert _ramp_k_s(time_s, top, 100.0, 4.0, 200.0) == pytest.approx(50.0)
    assert _ramp_k_s(time_s, top, 100.0, 2.0, 100.0) == pytest.approx(50.0)
    assert _ramp_k_s(time_s, top, 300.0, 4.0, 200.0) == pytest.approx(50.0)
    assert _ramp_k_s(time_s, top, -20.0, 4.0, 200.0) == pytest.approx(50.0)
    assert _ramp_k_s(time_s, top, 100.0, 0.0, 0.0) == 0.0
    assert _ramp_k_s(time_s, top, 100.0, 0.5, 10.0) == pytest.approx(20.0)


# --- the iron


def test_an_iron_s_row_of_figures() -> None:
    """A chisel of 2 mm: a copper cone from 2.2 to 1 mm over 5.2 (pi k r R / L) behind the
    heater's way, in series with the contact on 2 x 1.5 of the land's 0.6 x 1.5 mm."""
    cases = [tip_on(joint(SOIC_8), iron, 2.0) for iron in (STATION_60, PLAIN_25)]
    net = iron_inputs(cases, DATA, ("value", "low", "high")).net
    cone = math.pi * 390 * 1e-3 * 2.2 / 5.2
    area = 0.6e-3 * 1.5e-3
    contacts = (1e5, 4.7e4, 5e4, 2.35e4, 2e5, 9.4e4)
    ways = [0.53, 0.29] * 3
    expected = [
        1 / (1 / w + 1 / cone + 1 / (c * area)) for w, c in zip(ways, contacts, strict=True)
    ]
    assert net.path_w_k.tolist() == pytest.approx(expected)
    # A plain iron loses its whole power where it idles, at 400 C in a room of 22.
    assert net.tip_loss_w_k[:2].tolist() == pytest.approx([0.03, 25 / 378])
    assert net.set_k[:2].tolist() == [325.0, math.inf]
    assert net.first_tip_k[:2].tolist() == [325.0, 375.0]
    assert net.room_k[0] == -3.0


@pytest.mark.parametrize(
    ("width", "shape", "area_mm2"),
    [(0.5, "chisel", 0.5 * 0.76), (0.5, "bevel", 1.2 * 0.5 * 0.76), (1.0, "conical", 0.7),
     (9.0, "blade", 1.3 * 16.0)],
)  # fmt: skip
def test_what_a_tip_wets(width: float, shape: str, area_mm2: float) -> None:
    """As wide as the tip, at least 0.76 mm along, no more than the land of 4 x 4 mm."""
    case = replace(tip_on(joint(TAB), CARTRIDGE_120, width),
                   tip=Tip.model_validate({"width_mm": width, "shape": shape}))  # fmt: skip
    path = 1 / iron_inputs([case], DATA, ("value",)).net.path_w_k[0]
    cone = math.pi * 390 * width / 2 * 1e-3 * 2.2 / 5.2
    assert path - 1 / 2.1 - 1 / cone == pytest.approx(1 / (1e5 * area_mm2 * 1e-6))


def test_latent_heat_is_spread_over_the_rise() -> None:
    lumps = joint_lumps(joint(SOIC_8, alloy=SNPB), DATA)
    (cold, hot) = iron_inputs(
        [tip_on(joint(SOIC_8, alloy=SNPB), STATION_60, 1.0, c) for c in (22.0, 300.0)],
        DATA, ("value",),
    ).net.joint_j_k  # fmt: skip
    assert cold - lumps.capacity_j_k == pytest.approx(lumps.latent_j / (183 + 35 - 22))
    assert hot - lumps.capacity_j_k == pytest.approx(lumps.latent_j)


def test_temperature_where_insulation_begins() -> None:
    """Segments of 2, 2 and 4 mm from a joint of 100 K: middles at 1, 3 and 6 mm. Of the three
    levels of contact (poorest, usual, best) the usual one counts."""
    edge = np.array([0.0, 2e-3, 4e-3, 8e-3])[:, None] * np.ones(3)
    rod = np.array([80.0, 40.0, 10.0])[None, :, None] * np.array([0.5, 1.0, 1.5])
    joints, nothing = 100.0 * np.array([[0.5, 1.0, 1.5]]), np.zeros(3)
    run = IronMarch(nothing, joints, nothing, nothing, nothing, nothing, nothing, nothing, rod)
    lumps = joint_lumps(wire("pvc", 1.0), DATA)
    assert lumps.rod is not None
    for bare_mm, expected in ((0.0, 100.0), (0.5, 90.0), (1.0, 80.0), (2.0, 60.0), (4.5, 25.0),
                              (9.0, 10.0)):  # fmt: skip
        at: JointLumps = replace(lumps, rod=replace(lumps.rod, bare_m=bare_mm * 1e-3))
        assert _at_insulation(run, rod, edge, [at])[0].tolist() == pytest.approx([expected])


# --- removal alloy


def test_passes_with_the_wick() -> None:
    """Each leaves 15 %: one pass takes 3.3 % below the half per cent, two take 22 %."""
    assert _cleanings(0.5, P) == (0, 0.5)
    assert _cleanings(0.5 / 0.15, P) == (1, pytest.approx(0.5))
    assert _cleanings(22.0, P) == (2, pytest.approx(22.0 * 0.0225))
    assert _cleanings(23.0, P)[0] == 3


def test_a_row_is_covered_whole() -> None:
    row = SOIC_8.pads[0]
    assert _along_mm(row) == 1.27
    assert _along_mm(row.model_copy(update={"count": 2})) == 0.6
    assert _along_mm(row.model_copy(update={"land_w_mm": 2.0})) == 2.0
    assert _along_mm(row.model_copy(update={"pitch_mm": None})) == 0.6


def test_a_board_above_the_mixture_s_melting_stays_liquid() -> None:
    found = low_melt_lift(SOIC_8, board(1), SNPB, "Sn42Bi58", DATA, 22.0)
    at_c = found.mix_liquidus_c
    for start_c, stays in ((at_c - 5.0, False), (at_c, True), (at_c + 5.0, True)):
        heat = low_melt_lift(SOIC_8, board(1), SNPB, "Sn42Bi58", DATA, start_c)
        assert (heat.molten_s == P["flood_longest_s"]) is stays


def test_both_faces_cool_a_flooded_part_s_board() -> None:
    """16 W/m2K from either face, out to the disk of the board's area or to twice the rows."""
    for side_mm, outer_m in ((80.0, 80e-3 / math.sqrt(math.pi)), (5.0, 10e-3)):
        on = board(1, length_mm=side_mm, width_mm=side_mm)
        rings = _rings(on, 5e-3, 0.02, 3000.0, P)
        area = math.pi * (outer_m**2 - 25e-6)
        assert rings.loss.sum() == pytest.approx(32 * area)
        assert rings.capacity.sum() == pytest.approx(3000 * area)
        assert not rings.store.any()


# --- the plate


def test_the_plate_s_nodes_in_a_row() -> None:
    """What a node takes from its neighbours they give: rows sum to what is lost to the room."""
    plate = HotPlate(name="p", length_mm=100.0, width_mm=80.0, thickness_mm=10.0, power_w=400.0)
    small = board(1, length_mm=60.0, width_mm=50.0)
    net = _net([PlateCase(SOIC_8, small, SAC, plate)], [0.2], DATA)
    matrix = net.matrix[0]
    assert matrix == pytest.approx(matrix.T)
    plate_m2, board_m2 = 8e-3, 3e-3
    lost = matrix.sum(axis=1)
    assert lost[PLATE] == pytest.approx(15 * (2 * plate_m2 - board_m2) / board_m2)
    assert lost[BOTTOM:JOINT] == pytest.approx(np.zeros(SLABS), abs=1e-6)
    assert net.power_w_m2[0] == pytest.approx(400 / board_m2)
    assert net.store[0, PLATE] == pytest.approx(2.43e6 * plate_m2 * 0.01 / board_m2)
    # From plate to joints: 0.2 mm of air with radiation beside it, and the whole board.
    gap = 0.035 / 0.2e-3 + 10
    links = [-matrix[n, n + 1] for n in range(PLATE, JOINT)]
    assert sum(1 / link for link in links) == pytest.approx(1 / gap + 1.6e-3 / 0.3)
    # A part shares a fin's length of board round its outline.
    spread, stored = whole_sheet(small, DATA)
    feed = 1 / (1 / gap + 1.6e-3 / 0.3)
    disk = math.sqrt(4.9 * 3.9 / math.pi) * 1e-3 + math.sqrt(spread / (feed + 15))
    part_m2 = math.pi * disk**2
    assert net.store[0, BODY] == pytest.approx(4.9 * 3.9 * 1.5 * 0.0019 / part_m2)
    assert net.store[0, BOTTOM:JOINT].sum() == pytest.approx(stored)
    faces = (4.9 * 3.9 + 2 * 1.5 * 8.8) * 1e-6
    assert lost[BODY] == pytest.approx(15 * faces / part_m2)
    assert lost[JOINT] == pytest.approx(15 * (1 - 4.9 * 3.9e-6 / part_m2))
    # Eight leads of copper alloy, and 0.1 mm of air below the body.
    assert SOIC_8.body.stand_off_mm == 0.1
    leads = 8 * 260 * 0.082e-6 / 1e-3 + 0.04 / 0.1e-3 * 4.9 * 3.9e-6
    assert -matrix[JOINT, BODY] == pytest.approx(leads / part_m2)
    assert len(lost) == NODES
    # Held at 100 K the joints end where heat from below is heat lost above.
    settled = _settled(net, np.array([100.0]))[0]
    above = lost[JOINT] + 1 / (part_m2 / leads + 1 / lost[BODY])
    assert settled == pytest.approx(100 * feed / (feed + above))


def test_the_air_and_the_iron_meet_the_same_solder() -> None:
    """Solder and lands hold what they hold, whatever heats them; latent heat over the rise."""
    plate = HotPlate(name="p")
    net = _net([PlateCase(CHIP_0402, board(1), SNPB, plate)], [0.2], DATA)
    solder_mm3, metal = joint_metal(joint(CHIP_0402, alloy=SNPB), DATA)
    alloy = DATA.alloys[SNPB]
    grams = solder_mm3 * alloy.density_g_cm3 * 1e-3
    each = metal + grams * (alloy.heat_j_gk + alloy.latent_j_g / (183 - 22))
    body = body_j_k(CHIP_0402.body, DATA)
    ratio = net.store[0, JOINT] / net.store[0, BODY]
    assert ratio == pytest.approx(2 * each / body)
