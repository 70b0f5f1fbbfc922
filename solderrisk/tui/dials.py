"""The dials of the what-if: what can be switched, what it stands at, what it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from solderrisk.report.words import LEVEL_WORDS, item_name, key_name, refs_line
from solderrisk.tui import setup as assumed
from solderrisk.tui.setup import TOOLS, Dial, Key, Setup, without
from solderrisk.words import money, one_line, percent, plain

if TYPE_CHECKING:
    from solderrisk.model.bench import Builder
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Gain
    from solderrisk.plan.sensitivity import Effect

TARGET_STEP = 0.05
AS_LEVEL = "as usual"
ACUITIES = (0.8, 1.0, 1.5, 2.0, 3.0)


NONE: Mapping[str, Effect] = {}
BUY, HANDS, BENCH = "Buy or practise (prices are examples)", "My hands", "My tools"
NAME_CELLS = 40
LEAST_POINT = 0.005


def dials(
    loaded: Question,
    saved: Setup,
    tried: Setup,
    ranked: Mapping[str, Effect] = NONE,
) -> tuple[Dial, ...]:
    """All dials in the order they are shown. ``ranked``: the assumed numbers that move the
    chance most, where that is known."""
    return (
        *_target(loaded, saved, tried),
        *_pins(tried),
        *_hands(loaded, saved.builder, tried.builder),
        *_bench_items(saved, tried),
        *assumed.assumed_dials(loaded, tried, ranked),
    )


def turn(loaded: Question, saved: Setup, tried: Setup, key: Key, step: int) -> Setup:
    """The set-up after one dial is moved by a step; switches ignore its sign."""
    match key:
        case ("target",):
            at = wanted(loaded, tried)
            return replace(tried, target=min(max(round(at + step * TARGET_STEP, 2), 0.05), 0.95))
        case ("pin", str(job)):
            return tried.with_pin(job, None)
        case ("hands", *what):
            return replace(tried, builder=_turn_builder(tried.builder, tuple(what), step))
        case ("assumed", str(name)):
            return assumed.turned(loaded, tried, name, step)
        case ("item", str(field), int(number)):
            off = tried.off ^ {(field, number)}
            return _with_bench(loaded, saved, replace(tried, off=off))
        case ("tool", str(name)):
            has = name in tried.added
            added = tuple(a for a in tried.added if a != name) if has else (*tried.added, name)
            return _with_bench(loaded, saved, replace(tried, added=added))
        case ("practise", str(skill), float(joints) | int(joints)):
            pair = (skill, float(joints))
            has = pair in tried.practice
            rest = tuple(p for p in tried.practice if p[0] != skill)
            return replace(tried, practice=rest if has else (*rest, pair))
        case _:
            raise KeyError(key)


def wanted(loaded: Question, setup: Setup) -> float:
    """The chance that is asked for."""
    return loaded.wanted if setup.target is None else setup.target


def _target(loaded: Question, saved: Setup, tried: Setup) -> Iterator[Dial]:
    was, now = wanted(loaded, saved), wanted(loaded, tried)
    yield Dial(("target",), HANDS, "chance of a working kit", percent(now), percent(was))


def _pins(tried: Setup) -> Iterator[Dial]:
    for key, technique in tried.pins:
        yield Dial(
            ("pin", key), HANDS, f"pinned: {key_name(key)}", plain(technique), "free choice", True
        )


# Hands


def _hands(loaded: Question, was: Builder, now: Builder) -> Iterator[Dial]:
    group = HANDS
    yield Dial(
        ("hands", "level"), group, "has soldered so far", _level(now.level), _level(was.level)
    )
    skills = loaded.reference.risk.levels.skills
    for skill in skills:
        yield Dial(
            ("hands", "skill", skill.id),
            group,
            one_line(skill.title, 40),
            _skill(now, skill.id),
            _skill(was, skill.id),
        )
    yield Dial(
        ("hands", "hand"),
        group,
        "how steady the hand is",
        now.hand or AS_LEVEL,
        was.hand or AS_LEVEL,
    )
    yield Dial(("hands", "acuity"), group, "finest detail the eye sees", _acuity(now), _acuity(was))
    yield Dial(("hands", "guided"), group, "who stands by", _guided(now), _guided(was))


def _level(level: str) -> str:
    return LEVEL_WORDS[level]


def _guided(builder: Builder) -> str:
    return "one who knows" if builder.guided else "nobody"


def _skill(builder: Builder, skill: str) -> str:
    found = next((s.level for s in builder.skills if s.skill == skill), None)
    return AS_LEVEL if found is None else _level(found)


def _acuity(builder: Builder) -> str:
    return f"{builder.acuity_arcmin:g} arcmin"


def _turn_builder(builder: Builder, what: Key, step: int) -> Builder:
    from solderrisk.model.bench import LEVELS, SkillLevel

    name = what[0]
    if name == "level":
        return builder.model_copy(update={"level": _next(LEVELS, builder.level, step)})
    if name == "guided":
        return builder.model_copy(update={"guided": not builder.guided})
    if name == "hand":
        hands = (None, "steady", "braced", "novice", "unbraced")
        return builder.model_copy(update={"hand": _next(hands, builder.hand, step)})
    if name == "acuity":
        values = tuple(sorted({*ACUITIES, builder.acuity_arcmin}))
        at = min(max(values.index(builder.acuity_arcmin) + step, 0), len(values) - 1)
        return builder.model_copy(update={"acuity_arcmin": values[at]})
    skill = str(what[1])
    now = next((s.level for s in builder.skills if s.skill == skill), None)
    level = _next((None, *LEVELS), now, step)
    rest = tuple(s for s in builder.skills if s.skill != skill)
    more = () if level is None else (SkillLevel(skill=skill, level=level),)
    return builder.model_copy(update={"skills": (*rest, *more)})


def _next(values: tuple[Any, ...], now: Any, step: int) -> Any:
    return values[(values.index(now) + step) % len(values)]


# Bench


def _bench_items(saved: Setup, tried: Setup) -> Iterator[Dial]:
    for field, what in TOOLS:
        for number, item in enumerate(getattr(saved.bench, field)):
            on = (field, number) not in tried.off
            yield Dial(
                ("item", field, number),
                BENCH,
                _item(what, item),
                "on" if on else "off",
                "on",
                on,
            )


def _item(what: str, item: Any) -> str:
    """A tool in words."""
    if isinstance(item, str):
        return plain(item) if what == "aid" else f"{what} {item}"
    if what == "solder":
        form = "paste" if item.paste else f"{item.wire_mm:g} mm wire" if item.wire_mm else "solder"
        return f"{item.alloy} {form}"
    if what == "flux":
        return f"{plain(item.kind)} flux, {item.form}"
    power = getattr(item, "power_w", None)
    watts = f", {power:g} W" if power and f"{power:g}" not in item.name else ""
    magnifies = f", {item.power_x:g}×" if hasattr(item, "power_x") else ""
    name = one_line(item.name, 36)
    told = what.casefold() in name.casefold().replace("-", " ")
    return f"{'' if told else what + ' '}{name}{watts}{magnifies}"


def buys(loaded: Question, tried: Setup, gains: Sequence[Gain]) -> Iterator[Dial]:
    """What can be bought or practised: most for its cost first once that is known."""
    from solderrisk.model.plan_data import brings_something

    currency, planned = loaded.kit.currency, dict(tried.practice)
    for gain in gains:
        item = gain.item
        if not hasattr(item, "id"):
            # What is ticked stands as it was ticked, whatever more of it would bring.
            joints = planned.get(item.skill)
            on = joints is not None
            key: Key = ("practise", item.skill, item.joints if joints is None else round(joints))
            if joints is not None:
                ticked = replace(item, joints=round(joints))
                yield _switch(key, BUY, item_name(ticked), True)
                continue
        else:
            key, on = ("tool", item.id), item.id in tried.added
        yield _switch(key, BUY, buy_line(gain, currency), on)
    if not gains:
        for tool in loaded.reference.plan.tools:
            on = tool.id in tried.added
            if on or brings_something(loaded.bench, tool):
                label = f"{one_line(tool.title, 44):44} {money(tool.price, currency):>11}"
                yield _switch(("tool", tool.id), BUY, label, on)


def _switch(key: Key, group: str, label: str, on: bool) -> Dial:
    return Dial(key, group, label, "on" if on else "off", "off", on)


def buy_head() -> str:
    """Heads of the columns of ``buy_line``."""
    return f"{'':5}{'':{NAME_CELLS}}{'price':>8}{'hours':>6}{'alone':>6}{'beside':>7}  helps"


def buy_line(gain: Gain, currency: str) -> str:
    """Name, price, hours, points alone and beside what is ticked, and what it helps."""
    name = item_name(gain.item)
    hours = f"{gain.hours:.1f}" if gain.hours else "–"
    alone = f"{100 * gain.alone:+.0f}" if abs(gain.alone) >= LEAST_POINT else "0"
    beside = f"{100 * gain.together:+.0f}" if abs(gain.together) >= LEAST_POINT else "0"
    if gain.enables:
        alone = "opens"
    price = f"{gain.price:.0f} {currency}"
    helps = refs_line(gain.helps, 3) if gain.helps else ""
    row = f"{price:>8}{hours:>6}{alone:>6}{beside:>7}  {helps}"
    if len(name) <= NAME_CELLS:
        return f"{name:{NAME_CELLS}}{row}"
    # A name is never cut: it has a line of its own.
    return f"{name}\n{'':{NAME_CELLS + 5}}{row}"


def to_pay(loaded: Question, tried: Setup) -> float:
    """What the tools switched on would cost."""
    tools = loaded.reference.plan.tools
    return sum(tool.price for tool in tools if tool.id in tried.added)


def _with_bench(loaded: Question, saved: Setup, tried: Setup) -> Setup:
    bench = without(saved.bench, tried.off)
    if tried.added:
        from solderrisk.model.plan_data import with_tools

        table = {tool.id: tool for tool in loaded.reference.plan.tools}
        bench = with_tools(bench, [table[id] for id in tried.added])
    return replace(tried, bench=bench)
