"""From equipment entries to kits with every figure known; what was filled in is an assumption.

In: the equipment section and the catalogue. Out: `Kit`s (flicks, metres, thousandths of a dB)
and `Assumption`s, each with its range, grade and source. Prices are never filled in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, TypeVar

from sim.rig.equipment import TYPES, Generic
from sim.rig.figures import SHELTERS, TRADE, UNKNOWN, Fact, timing
from sim.rig.kit import Chooser, Kit, Limits, Optics
from sim.scenario.entries import ChooserEntry, EquipmentEntry
from sim.timebase import Delay, Rate, Timing

T = TypeVar("T")
Equipment = Mapping[str, EquipmentEntry]
Raster = tuple[int, int]

LIMIT_NAMES = (
    "ports", "ports_per_trunk", "trunks", "trunk_inputs", "inputs", "chain", "pixels", "line_width",
)  # fmt: skip
OPTIC_NAMES = ("per_km", "per_connector", "per_splice")


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something not said: where it would stand, what it is, the value taken."""

    path: str
    what: str
    value: str
    grade: str
    source: str


def lineage(name: str, equipment: Equipment) -> list[str]:
    """A type and the types it is like, nearest first; stops where one comes again."""
    found: dict[str, None] = {}
    here: str | None = name
    while here is not None and here not in found:
        found[here] = None
        entry = equipment.get(here)
        here = entry.like if entry else None
    return [*found]


def generic_of(name: str, equipment: Equipment) -> Generic | None:
    """The generic type that an equipment type rests on, or None if it rests on none."""
    return TYPES.get(lineage(name, equipment)[-1])


def family_of(name: str, equipment: Equipment) -> str:
    """The family of a type, or "" if it rests on no generic type."""
    made = generic_of(name, equipment)
    return made.family if made else ""


def kit_of(name: str, equipment: Equipment, rate: Rate, raster: Raster) -> Kit:
    """A type with every figure filled in. `raster`: the picture's width and height in pixels."""
    entries = [equipment[each] for each in lineage(name, equipment) if each in equipment]
    base = TYPES[lineage(name, equipment)[-1]]
    return Kit(
        name=name,
        family=base.family,
        timings=_timings(entries, base, rate),
        picks=_chooser([e.picks for e in entries], base.settings.get("restore", "revertive")),
        follows=_chooser([e.follows for e in entries], "revertive"),
        on_loss=_first(entries, "on_loss", base.settings.get("on_loss", "black")),
        loop_through=_first(entries, "loop_through", base.settings.get("loop_through", "none")),
        drift=_first(entries, "drift", Fraction(10)),
        delay=_delay(_first(entries, "delay", None), base.delay, rate, raster),
        hop=_delay(_first(entries, "hop", None), None, rate, raster),
        index=_first(entries, "index", base.index.most if base.index else Fraction(0)),
        limits=_limits(entries, base),
        optics=_optics(entries, base),
        price=_amount(_first(entries, "price", None)),
        price_per_metre=_amount(_first(entries, "price_per_metre", None)),
        crew=_first(entries, "crew", 0),
        supplier=_first(entries, "supplier", ""),
        monitored=_first(entries, "monitored", False),
    )


def _first(entries: list[Any], key: str, default: Any) -> Any:
    """What the nearest entry says, or the default."""
    return next((v for e in entries if (v := getattr(e, key)) is not None), default)


def _amount(price: tuple[Fraction, str] | None) -> Fraction | None:
    return price[0] if price else None


def _timings(entries: list[EquipmentEntry], base: Generic, rate: Rate) -> dict[str, Timing]:
    made = {key: timing(key, fact, rate.frame) for key, fact in base.timings.items()}
    for entry in reversed(entries):
        made |= {key: sheltered(key, value) for key, value in entry.timings.items()}
    return made


def sheltered(key: str, value: Timing) -> Timing:
    """The timing, marked if its kind keeps the picture up."""
    return replace(value, shelters=key in SHELTERS)


def _chooser(entries: list[ChooserEntry], restore: str) -> Chooser:
    locked = _first(entries, "locked_on", 1)
    return Chooser(
        _first(entries, "restore", restore), _first(entries, "accepts_above", 0), locked - 1
    )


def _delay(said: Delay | None, usual: Fact | None, rate: Rate, raster: Raster) -> Fraction:
    if said is not None:
        return said.flicks(rate.frame, raster)
    if usual is None:
        return Fraction(0)
    unit = {"frame": "frames", "pixel": "pixels"}[usual.unit]
    return Delay(**{unit: usual.most}).flicks(rate.frame, raster)


def _limits(entries: list[EquipmentEntry], base: Generic) -> Limits:
    usual = {key: int(fact.least) for key, fact in base.limits.items() if key in LIMIT_NAMES}
    counts = {key: _first(entries, key, usual.get(key)) for key in LIMIT_NAMES}
    counts["ports_per_trunk"] = counts["ports_per_trunk"] or 8
    reach = base.limits.get("reach")
    metres = reach.least * (1000 if reach.unit == "km" else 1) if reach else None
    return Limits(
        **counts, reach=_first(entries, "reach", metres), buffer=_first(entries, "buffer", 0)
    )


def _optics(entries: list[EquipmentEntry], base: Generic) -> Optics:
    """Unfavourable: the least budget, the greatest losses."""
    said = [entry.optics for entry in entries]
    usual = {key: fact.most for key, fact in base.optics.items()}
    budget = (
        base.optics["launch"].least - base.optics["receive"].least if base.optics else Fraction(0)
    )
    values = [_first(said, "budget", budget)]
    values += [_first(said, key, usual.get(key, Fraction(0))) for key in OPTIC_NAMES]
    return Optics(*(int(value * 1000) for value in values))


def setting_of(name: str, equipment: Equipment, key: str, default: str) -> str:
    """A setting of a type in words, such as its `loop_through` or `on_loss`."""
    entries = [equipment[each] for each in lineage(name, equipment) if each in equipment]
    made = generic_of(name, equipment)
    return str(_first(entries, key, made.settings.get(key, default) if made else default))


def kit_assumptions(name: str, equipment: Equipment) -> Iterator[Assumption]:
    """What `kit_of` fills in from the catalogue for one type: each at the place and with the value
    that a scenario would write.
    """
    entries = [equipment[each] for each in lineage(name, equipment) if each in equipment]
    base = TYPES[lineage(name, equipment)[-1]]
    stated = {key for entry in entries for key in entry.timings}
    for key, fact in base.timings.items():
        if key not in stated:
            yield _filled(name, f"timings.{key}", _timing_text(fact), fact)
    for key, fact in base.limits.items():
        if _first(entries, key, None) is None:
            yield _filled(name, key, str(fact) if key == "reach" else str(int(fact.least)), fact)
    yield from _optics_assumed(name, [entry.optics for entry in entries], base)
    if base.delay is not None and _first(entries, "delay", None) is None:
        yield _at_most(name, "delay", base.delay)
    if base.index is not None and _first(entries, "index", None) is None:
        yield _at_most(name, "index", base.index)
    yield from _settings_assumed(name, entries, base)


def _optics_assumed(name: str, said: list[Any], base: Generic) -> Iterator[Assumption]:
    """The budget (least power sent less least power needed), and the greatest losses."""
    if base.optics and _first(said, "budget", None) is None:
        sent, needed = base.optics["launch"], base.optics["receive"]
        budget = replace(sent, unit="dB", least=sent.least - needed.least, typical=None)
        budget = replace(budget, most=budget.least)
        source = f"sent at least {float(sent.least):g} dBm, needed {float(needed.least):g} dBm"
        yield _filled(name, "optics.budget", str(budget), budget, f"{sent.source}; {source}")
    for key in OPTIC_NAMES:
        if key in base.optics and _first(said, key, None) is None:
            yield _at_most(name, f"optics.{key}", base.optics[key])


def _settings_assumed(name: str, entries: list[Any], base: Generic) -> Iterator[Assumption]:
    choices = {"picks.restore" if k == "restore" else k: v for k, v in base.settings.items()}
    if base.family == "processor":
        choices["follows.restore"] = "revertive"
    for key, value in choices.items():
        part, _, inner = key.rpartition(".")
        where = [getattr(entry, part) for entry in entries] if part else entries
        if _first(where, inner, None) is None:
            source = f"{TRADE}; {UNKNOWN}" if key != "follows.restore" else TRADE
            yield Assumption(f"equipment.{name}.{key}", WHAT[key], value, "guess", source)
    if _first(entries, "monitored", None) is None:
        path = f"equipment.{name}.monitored"
        yield Assumption(path, "whether a fault raises an alarm", "no", "guess", UNKNOWN)


def _filled(name: str, key: str, value: str, fact: Fact, source: str = "") -> Assumption:
    what = WHAT.get(key.rpartition(".")[2], key.rpartition(".")[2].replace("_", " "))
    return Assumption(f"equipment.{name}.{key}", what, value, fact.grade, source or fact.source)


def _at_most(name: str, key: str, fact: Fact) -> Assumption:
    """A figure that is taken at its greatest."""
    ranged = fact.least != fact.most
    source = f"{fact.source}; the most of {fact}" if ranged else fact.source
    return _filled(name, key, str(replace(fact, least=fact.most)), fact, source)


def _timing_text(fact: Fact) -> str:
    """As a scenario writes it; the typical value only where it is not the middle."""
    if fact.typical is None or fact.typical * 2 == fact.least + fact.most:
        return str(fact)
    return f"{fact}, typically {float(fact.typical):g}"


SECTION = re.compile(r"\.(?:timings|optics|picks)\.(\w+)$")


def short_path(path: str) -> str:
    """What a figure of a type is called: `relay unit.detect` for
    `equipment.relay unit.timings.detect`; other places as they are.
    """
    return SECTION.sub(r".\1", path.removeprefix("equipment."))


WHAT = {
    "start": "time from power or repair to a picture",
    "detect": "time until a lost input is noticed",
    "switch": "time that the change to another input takes",
    "hold_off": "chosen delay before a change",
    "wait_to_restore": "wait before going back to the preferred input",
    "keeps_last": "how long the last picture stays when nothing arrives",
    "notice": "time until a gated return is sent",
    "return_wait": "time until a gated return is withdrawn",
    "holdover": "time in step without a reference",
    "relock": "time to follow a reference that is back",
    "relock_glitch": "interruption when following it again",
    "picks.restore": "whether a change of input happens by itself",
    "follows.restore": "whether a change of reference happens by itself",
    "on_loss": "what a layer shows when its source is lost",
    "loop_through": "how a unit hands its sources on to a second unit",
    "budget": "optical loss that a link stands",
    "per_km": "optical loss of fibre",
    "per_connector": "optical loss of a connector",
    "per_splice": "optical loss of a splice",
    "index": "group index of the fibre",
    "delay": "delay of the picture",
    "pixels": "pixels on a port, 8 bit, 60 Hz",
}
"""What a key means, in words for a list of assumptions."""
