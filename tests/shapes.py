"""Footprints of plain shapes, for tests of geometry."""

from __future__ import annotations

from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup


def part(family: str, length: float, width: float, height: float, *pads: PadGroup) -> Footprint:
    body = {"length_mm": length, "width_mm": width, "height_mm": height}
    return Footprint.model_validate(
        {"name": "T", "family": family, "pads": pads, "body": Body(**body), "source": "assumed"}
    )


def group(kind: str, count: int, land_w: float, land_l: float, **more: object) -> PadGroup:
    return PadGroup.model_validate(
        {"kind": kind, "count": count, "land_w_mm": land_w, "land_l_mm": land_l, **more}
    )


def chip(length: float = 1.6, width: float = 0.8, land_w: float = 0.9) -> Footprint:
    ends = group("chip_end", 2, land_w, 0.8, layout="ends", row_span_mm=length - 0.1)
    return part("chip", length, width, 0.45, ends)


def gull(pitch: float = 0.5, lead_w: float = 0.22, land_w: float = 0.3, count: int = 100,
         body: float = 14.0, foot: float = 0.6) -> Footprint:  # fmt: skip
    lead = Lead(width_mm=lead_w, thickness_mm=0.15, length_mm=1.0, foot_mm=foot)
    rows = group("gull_wing", count, land_w, 1.5, layout="quad", pitch_mm=pitch,
                 row_span_mm=body + 1.4, lead=lead)  # fmt: skip
    return part("qfp", body, body, 1.2, rows)


def barrel(lead_w: float = 0.46, lead_t: float = 0.25, hole: float = 0.8, land: float = 1.6,
           count: int = 8, round_lead: bool = False) -> Footprint:  # fmt: skip
    lead = Lead(width_mm=lead_w, thickness_mm=lead_t, length_mm=3.0, round=round_lead)
    pins = group("through_hole", count, land, land, layout="dual", pitch_mm=2.54,
                 row_span_mm=7.62, hole_mm=hole, lead=lead)  # fmt: skip
    return part("dip", 9.8, 6.35, 3.3, pins)
