"""Joints, irons and packages that the heat tests share; plain shapes, nominal sizes."""

from __future__ import annotations

from typing import Any, Literal

from solderrisk.model.bench import Iron, Tip
from solderrisk.model.footprint import Body, Footprint, HeatLimit, Lead, PadGroup
from solderrisk.model.kit import Board, PlaneLink
from solderrisk.physics.results import AirCase, IronCase, JointCase

SNPB, SAC = "Sn63Pb37", "SAC305"


def footprint(name: str, family: str, body: Body, *pads: PadGroup, **more: Any) -> Footprint:
    fields = {"name": name, "family": family, "body": body, "pads": pads, "source": "assumed"}
    return Footprint.model_validate({**fields, **more})


def gull_lead(width: float, thickness: float, foot: float) -> Lead:
    return Lead(width_mm=width, thickness_mm=thickness, length_mm=1.0, foot_mm=foot)


CHIP_0402 = footprint(
    "chip-0402",
    "chip",
    Body(length_mm=1.0, width_mm=0.5, height_mm=0.5, material="ceramic"),
    PadGroup(kind="chip_end", count=2, layout="ends", row_span_mm=0.9, land_w_mm=0.6,
             land_l_mm=0.6),
)  # fmt: skip
SOIC_8 = footprint(
    "soic-8",
    "soic",
    Body(length_mm=4.9, width_mm=3.9, height_mm=1.5),
    PadGroup(kind="gull_wing", count=8, layout="dual", pitch_mm=1.27, row_span_mm=5.4,
             land_w_mm=0.6, land_l_mm=1.5, lead=gull_lead(0.41, 0.2, 0.7)),
)  # fmt: skip


def qfp(pins: int, body: float, height: float = 1.4, pitch: float = 0.5) -> Footprint:
    return footprint(
        f"qfp-{pins}",
        "qfp",
        Body(length_mm=body, width_mm=body, height_mm=height),
        PadGroup(kind="gull_wing", count=pins, layout="quad", pitch_mm=pitch,
                 row_span_mm=body + 1.4, land_w_mm=0.28, land_l_mm=1.5,
                 lead=gull_lead(0.22, 0.15, 0.6)),
    )  # fmt: skip


QFP_48, QFP_100 = qfp(48, 7.0, 1.0), qfp(100, 14.0)
BGA_256 = footprint(
    "bga-256",
    "bga",
    Body(length_mm=17.0, width_mm=17.0, height_mm=1.7, stand_off_mm=0.35),
    PadGroup(kind="ball", count=256, layout="grid", rows=16, pitch_mm=1.0, land_w_mm=0.4,
             land_l_mm=0.4, lead=Lead(width_mm=0.5, thickness_mm=0.5, length_mm=0.4, round=True)),
    hand_iron=False,
)  # fmt: skip
DIP_16 = footprint(
    "dip-16",
    "dip",
    Body(length_mm=19.0, width_mm=6.4, height_mm=3.3),
    PadGroup(kind="through_hole", count=16, layout="dual", pitch_mm=2.54, row_span_mm=7.62,
             land_w_mm=1.5, land_l_mm=1.5, hole_mm=0.8,
             lead=Lead(width_mm=0.46, thickness_mm=0.25, length_mm=3.5)),
)  # fmt: skip
GROUND_PIN = footprint(
    "ground-pin",
    "header",
    Body(length_mm=2.54, width_mm=2.54, height_mm=2.54, material="pbt"),
    PadGroup(kind="through_hole", count=1, land_w_mm=1.7, land_l_mm=1.7, hole_mm=1.0, tied=True,
             lead=Lead(width_mm=0.64, thickness_mm=0.64, length_mm=3.0, material="brass")),
)  # fmt: skip
TAB = footprint(
    "ground-tab",
    "power_tab",
    Body(length_mm=6.5, width_mm=6.1, height_mm=2.3),
    PadGroup(name="tab", kind="tab", count=1, land_w_mm=4.0, land_l_mm=4.0, tied=True,
             lead=Lead(width_mm=3.0, thickness_mm=0.5, length_mm=2.0)),
)  # fmt: skip
JACK = footprint(
    "jack",
    "dc_jack",
    Body(length_mm=14.0, width_mm=9.0, height_mm=11.0, material="polyamide"),
    PadGroup(name="lug", kind="lug", count=3, layout="explicit",
             at=((0.0, 0.0), (0.0, 6.0), (4.7, 3.0)), land_w_mm=4.0, land_l_mm=3.0, hole_mm=1.6,
             tied=True, lead=Lead(width_mm=2.5, thickness_mm=0.5, length_mm=4.0,
                                  material="brass")),
    heat=HeatLimit(iron_s=5.0, softens_c=220.0),
)  # fmt: skip


def board(planes: int = 1, **more: Any) -> Board:
    fields = {"name": "b", "copper_layers": max(2, planes), "plane_layers": planes, **more}
    return Board.model_validate(fields)


def joint(
    part: Footprint, planes: int = 1, spokes: int = 4, alloy: str = SAC, on: Board | None = None
) -> JointCase:
    """The first pad group's joint; tied groups get ``planes`` and ``spokes`` (0 is solid)."""
    group = part.pads[0]
    link = (PlaneLink(group=group.name, planes=planes, spokes=spokes),)
    return JointCase(part, group, on or board(planes), alloy, link if group.tied else ())


Drive = Literal["plain", "station", "cartridge"]


def iron(power_w: float, drive: Drive, *widths: float) -> Iron:
    tips = tuple(Tip(width_mm=width) for width in widths or (1.0,))
    return Iron(name=f"{power_w:g} W", drive=drive, power_w=power_w, tips=tips)


PLAIN_25, STATION_60, CARTRIDGE_120 = (
    iron(25.0, "plain", 1.0, 2.0, 3.0),
    iron(60.0, "station", 1.0, 2.0, 3.0),
    iron(120.0, "cartridge", 1.0, 2.0, 3.0),
)
IRONS = (PLAIN_25, STATION_60, CARTRIDGE_120)


def tip_on(
    what: JointCase, with_iron: Iron, width_mm: float, start_c: float = 25.0, tip_c: float = 350.0
) -> IronCase:
    return IronCase(what, with_iron, Tip(width_mm=width_mm), tip_c, start_c)


def air_on(
    part: Footprint,
    nozzle_mm: float,
    flow_l_min: float,
    air_c: float = 350.0,
    alloy: str = SNPB,
    **more: Any,
) -> AirCase:
    return AirCase(part, more.pop("on", board(1)), alloy, air_c, flow_l_min, nozzle_mm, **more)
