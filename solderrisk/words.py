"""Figures and names in plain words: the one place that says how a percent, a time, an amount
or a list of references is written. Knows nothing of the rest of the program."""

from __future__ import annotations

import math

# The command line needs this module for --help: typing would take a fifth of its time.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Protocol

    class Ranged(Protocol):
        """A figure with the ends of its doubt."""

        @property
        def low(self) -> float: ...
        @property
        def mid(self) -> float: ...
        @property
        def high(self) -> float: ...

    class HeatNote(Protocol):
        """A note of the heat model, with its figures."""

        @property
        def kind(self) -> str: ...
        @property
        def value(self) -> float: ...
        @property
        def limit(self) -> float: ...

    class Fit(Protocol):
        """How a tool suits a joint, with its figures."""

        @property
        def kind(self) -> str: ...
        @property
        def figures(self) -> tuple[float, ...]: ...


VERSION = "0.1.0"
CERTAIN = 0.9999
UTF8_MARK = "\ufeff"  # spreadsheets take a file that begins with it for UTF-8
COARSE_S = 20.0  # above it seconds are told in fives
_TECHNICAL = str.maketrans({"_": " "})

# Shares and chances


def percent(share: float) -> str:
    """A share as percent, without the false certainty of 0 % and 100 %."""
    return f"{_figure(share)} %"


def likely(share: float) -> str:
    """An estimated chance as percent: never certain, however near to 1 it comes out."""
    return percent(min(share, CERTAIN))


def rate(share: float) -> str:
    """A small rate of faults to two figures: '0.05 %', '1.3 %'."""
    if share >= 0.1:
        return percent(share)
    return f"{100 * share:.1f} %" if share >= 0.001 else f"{100 * share:.2g} %"


def points(gain: float) -> str:
    """How far a chance moves: '+3.4 points'."""
    return f"{100 * gain:+.1f} points"


def chance(value: Ranged, unit: str = " %") -> str:
    """A chance with its range: '62 % (48..74)'; no range where all of it reads the same."""
    low, mid, high = (_figure(min(end, CERTAIN)) for end in (value.low, value.mid, value.high))
    return f"{mid}{unit}" if low == mid == high else f"{mid}{unit} ({low}..{high})"


def _figure(share: float) -> str:
    value = 100.0 * share
    if value <= 0:
        return "0"
    if value < 0.1:
        return "<0.1"
    if 99.95 <= value < 100:
        return ">99.9"
    return f"{value:.1f}" if value < 1 or 99 < value < 100 else f"{value:.0f}"


# Money, times, amounts: no finer than a person can count, set or hold


def money(amount: float, currency: str) -> str:
    digits = 0 if abs(amount) >= 1000 else 2
    return f"{amount:,.{digits}f} {currency}"


def span(value: Ranged, unit: str, digits: int = 1) -> str:
    """A figure with its range: '3.1 (2.0..4.8) h'."""
    low, mid, high = (f"{part:.{digits}f}" for part in (value.low, value.mid, value.high))
    return f"{mid} {unit}" if low == high else f"{mid} ({low}..{high}) {unit}"


def minutes(value: float) -> str:
    """Minutes as a person says them: '40 s', '25 min', '1.5 h'."""
    if value < 1:
        return f"{max(60 * value, 1):.0f} s" if value > 0 else "no time"
    return f"{value:.0f} min" if value < 90 else f"{value / 60:.1f} h"


def about_minutes(value: float) -> str:
    """'under a minute', 'about 25 min'."""
    return "under a minute" if value < 0.75 else f"about {max(round(value), 1):d} min"


def worked(hands_min: float, wait_hours: float) -> str:
    """'56 min', or '56 min and 33 h of waiting'."""
    hands = minutes(hands_min)
    return f"{hands} and {wait_hours:g} h of waiting" if wait_hours else hands


def seconds(value: float | None) -> str:
    if value is None:
        return "never"
    return f"{value:.1f} s" if value >= 0.1 else "<0.1 s"


def about_s(value_s: float) -> int:
    """Seconds as they can be counted: whole ones, in fives above ``COARSE_S``."""
    return round(value_s / 5) * 5 if value_s > COARSE_S else max(round(value_s), 1)


def stop_s(*limits_s: float) -> int:
    """Whole seconds to stop at, never later than any limit; 0 where one is under a second."""
    return math.floor(min(limits_s))


def dial_c(value_c: float) -> str:
    """A temperature to set, in tens: '300 C'."""
    return f"{round(value_c / 10) * 10:d} C"


def flow_l_min(value: float) -> str:
    """An air flow to set, in fives: '45 l/min'."""
    return f"{max(round(value / 5) * 5, 5):d} l/min"


def grams(value: float) -> str:
    """'1.5 g', or 'under 0.1 g'."""
    return "under 0.1 g" if value < 0.05 else f"{value:.1f} g"


def counted(number: int, what: str) -> str:
    """'1 job', '2 jobs'."""
    return f"{number:,} {what}" + ("" if number == 1 else "s")


def tied_words(pins: int, low: float, mid: float, high: float) -> str:
    """'1 of 3 pins, 0..2': how many are taken as on copper planes."""
    least, most = math.floor(low + 1e-9), math.ceil(high - 1e-9)
    return f"{round(mid)} of {pins} pins, {least}..{most}"


# Names


def plain(name: str) -> str:
    """A technical name in words: 'drag_solder' -> 'drag solder'."""
    return name.translate(_TECHNICAL)


def named(ids: Iterable[str], names: Mapping[str, str] | None = None) -> str:
    """Things by the names that people read: 'a hot-air station, solder paste'."""
    return ", ".join((names or {}).get(each, plain(each)) for each in ids)


def short_list(refs: Iterable[str], most: int = 6) -> str:
    """References in words, cut after ``most``: 'R1, R2 and 4 more'."""
    refs = list(refs)
    shown = ", ".join(refs[:most])
    return shown if len(refs) <= most else f"{shown} and {len(refs) - most:,} more"


def folded(refs: Iterable[str], least: int = 3) -> str:
    """References as people write them, runs of at least ``least`` as ranges: 'R1-R12, R15'.
    Nothing is sorted: only neighbours in the given order make a run."""
    return ", ".join(runs(refs, least))


def runs(refs: Iterable[str], least: int) -> list[str]:
    """References with runs of at least ``least`` as ranges."""
    found: list[list[str]] = []
    for ref in refs:
        if found and _follows(found[-1][-1], ref):
            found[-1].append(ref)
        else:
            found.append([ref])
    told = ([f"{run[0]}-{run[-1]}"] if len(run) >= least else run for run in found)
    return [each for run in told for each in run]


def _follows(ref: str, after: str) -> bool:
    head, number = _parted(ref)
    next_head, next_number = _parted(after)
    return number is not None and head == next_head and next_number == number + 1


def _parted(ref: str) -> tuple[str, int | None]:
    head = ref.rstrip("0123456789")
    digits = ref[len(head) :]
    # Leading zeros are part of the name: R09 is no R9.
    return (head, int(digits)) if digits and str(int(digits)) == digits else (ref, None)


# Text of others


def one_line(text: str, limit: int = 0) -> str:
    """Text of a file as one printable line, cut with an ellipsis."""
    flat = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return flat if not limit or len(flat) <= limit else flat[: max(limit - 1, 0)] + "…"


# What a spreadsheet may take for a formula at the beginning of a cell.
STARTS_FORMULA = ("=", "+", "-", "@")


def as_text(text: str) -> str:
    """A cell that no spreadsheet computes: an apostrophe goes before what looks like one."""
    flat = one_line(text)
    return f"'{flat}" if flat.startswith(STARTS_FORMULA) else flat


def escaped(text: str) -> str:
    """Nothing that a terminal would obey, and nothing hidden: what does not print is spelt."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def sentence(text: str) -> str:
    """With a capital in front."""
    return text[:1].upper() + text[1:]


# Keys and places as they are written into files

DONOR = "donor:"


def kind_and_ref(key: str) -> tuple[str, str]:
    """What a job's key is made of: 'lift:U1' is the lift of U1."""
    kind, _, ref = key.partition(":")
    return kind, ref


def donor_at(place: str) -> str | None:
    """The donor's name where a job's place is one, else None."""
    return place.removeprefix(DONOR) if place.startswith(DONOR) else None


# Levels of self-description, the same on every face

LEVEL_WORDS: dict[str, str] = {
    "never": "never soldered",
    "few": "a kit or two",
    "several": "several kits",
    "regular": "every week",
    "trained": "trained",
}


# What the heat model notes

HEAT_NOTES = {
    "thin_board": "board of {value:g} mm is thinner than the model was made for",
    "more_planes": "tied to {value:g} planes of {limit:g} copper layers",
    "wide_land": "the land is so large that heat does not spread in rings round it",
    "far_side_lags": "the barrel's far side lags: see that solder shows there, else heat again",
    "hidden_joint": "no tip reaches this joint: it lies under the body",
    "all_molten": "the board is hotter than its solder melts: every joint on it is loose",
    "plain_iron": "a plain iron sets its own temperature: taken to idle at {value:g} C",
    "outside_range": "{value:g} C is outside what this iron can be set to",
    "steep": "heats at {value:.1f} K/s, above the {limit:g} K/s of J-STD-020: come closer slowly, "
    "or preheat the board",
    "jet_flow": "air flow outside the correlation's range (Re {value:.0f})",
    "jet_height": "nozzle height of {value:.1f} diameters is outside the correlation's range",
    "wide_part": "the part is wider than the jet's correlation reaches",
    "freezes_soon": "it freezes within seconds: keep the heat on while lifting, or preheat",
    "planes_cool_first": "joints tied to planes cool first: lift from there, heat on",
}


def note_words(note: HeatNote) -> str:
    """A note as a bench would put it."""
    return HEAT_NOTES[note.kind].format(value=note.value, limit=note.limit)


# How tools suit joints, and leads their holes

FITS = {
    "no_hole": "no hole to draw solder from",
    "bore_below_hole": "hole (lead not given) {:.2f} mm across asks for a bore of {:.2f}, "
    "not {:.2f} mm",
    "bore_below_lead": "lead {:.2f} mm across asks for a bore of {:.2f}, not {:.2f} mm",
    "next_land": "nozzle {:.2f} mm wide reaches {:.2f} mm onto the next land",
    "wide_nozzle": "nozzle is {:.2f} mm wider than the land",
    "loose_bore": "bore {:.2f} mm is too loose to draw solder",
    "press_lightly": "fits; {:.2f} mm wider than the land, keep it level and press lightly",
    "bore_clears": "bore {:.2f} mm clears the lead, stays on the land",
    "bridges": "{:.1f} mm tip bridges lands, {:.1f} mm at most",
    "narrow_tip": "fits, yet narrow for a {:.1f} mm land: heats it slowly",
    "tip_suits": "{:.1f} mm tip suits a {:.1f} mm land",
    "air_loses": "{:g} mm air loses one side of {:.1f} mm while at the other",
    "air_beyond": "{:g} mm air covers far more than {:.1f} mm: heats the neighbours",
    "air_covers": "{:g} mm air covers {:.1f} mm by circling",
    "no_lead": "no hole or no lead to compare",
    "no_entry": "lead {:.2f} mm across does not enter a {:.2f} mm hole",
    "tight": "tight: hole {:.2f} mm, {:.2f} advised",
    "loose": "loose: hole {:.2f} mm takes much solder",
    "hole_suits": "hole {:.2f} mm suits a lead {:.2f} mm",
    "lug_enters": "lug {:.2f} x {:.2f} mm, slot {:.2f} x {:.2f} mm",
    "lug_too_large": "does not enter: lug {:.2f} x {:.2f} mm, slot {:.2f} x {:.2f} mm",
}


def fit_words(fit: Fit) -> str:
    """Why a tool suits a joint or a lead its hole, or does not."""
    return FITS[fit.kind].format(*fit.figures)


# Rows of a terminal

WIDTH = 78
# Wide characters (East Asian) take two columns; a filler keeps the fold right.
_HALF = "\u200b"


def wrapped(item: str, indent: int = 2, hang: int | None = None, width: int = WIDTH) -> list[str]:
    """One item folded to ``width`` columns; further lines are indented by ``hang``."""
    hang = indent + 2 if hang is None else hang
    # Runs of blanks are the caller's columns and stay; controls and line ends go.
    words = "".join(c if c.isprintable() else " " for c in item).rstrip()
    import textwrap

    rows = textwrap.wrap(
        _spread(words),
        width,
        initial_indent=" " * indent,
        subsequent_indent=" " * hang,
        break_on_hyphens=False,
    )
    return [row.replace(_HALF, "") for row in rows]


PICTURE_W = 12


def beside(picture: Iterable[str], words: Iterable[str]) -> list[str]:
    """Rows of a small picture with words at their right."""
    from itertools import zip_longest

    rows = zip_longest(picture, words, fillvalue="")
    return [f"{drawn:{PICTURE_W}}{told}".rstrip() for drawn, told in rows]


def cut(line: str, limit: int = WIDTH) -> str:
    """One row of the terminal, with an ellipsis where it was longer."""
    flat = one_line(line)
    while columns(flat) > limit:
        flat = one_line(flat, len(flat) - 1)
    return flat


def column(text: str, width: int) -> str:
    """Cut or filled to a column."""
    short = cut(text, width)
    return short + " " * (width - columns(short))


def columns(text: str) -> int:
    return len(_spread(text))


def _spread(words: str) -> str:
    import unicodedata

    return "".join(c + _HALF if unicodedata.east_asian_width(c) in "WF" else c for c in words)
