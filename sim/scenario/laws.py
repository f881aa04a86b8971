"""Fields for what may happen: random times, chances, what a clause pays, how long ago.

In: a written text, or a mapping with the law of a random time. Out: `Law`s and times in flicks,
chances as floats from 0 to 1, shares and amounts as exact numbers. Raises only `FieldError`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import partial
from typing import Annotated, Any

from pydantic import ValidationInfo

from sim.errors import nearest_name
from sim.faults import MODES
from sim.rig.terms import LAWS, Law
from sim.scenario.fields import TEXT, FieldError, asked, plain, reading, text_of
from sim.scenario.numbers import money, share
from sim.timebase import FLICKS, FOREVER, Rate, Timing, parse_time, parse_timing

STATED = "stated in the scenario"
TIME = "a time or a range, as 5 min, 1..4 min, or 1..4 min, typically 2 min"
FACTOR = "a number from 1 to 1000: 95 % take less than so many times the median"
NEEDS: Mapping[str, tuple[str, ...]] = {
    "exponential": ("mean",), "lognormal": ("median", "factor"),
}  # fmt: skip
"""What a law takes that is no range."""


def _law(value: Any, info: ValidationInfo) -> Law:
    parts = value if isinstance(value, dict) else {"range": text_of(value, TIME)}
    name = text_of(parts["law"], ", ".join(LAWS)) if "law" in parts else ""
    if name and name not in LAWS:
        found, near = f"{name!r} is no law of a random time", nearest_name(name, LAWS)
        raise FieldError(found, ", ".join(LAWS), near, "choose one")
    keys = NEEDS.get(name, ("range",))
    _only(parts, name, keys)
    source, shown = text_of(parts.get("source", STATED), "where the figure is from"), reading(info)
    if name == "exponential":
        return Law(name, _some_time(parts["mean"], shown.rate), source=source)
    if name == "lognormal":
        median = _some_time(parts["median"], shown.rate)
        return Law(name, median, factor=_spread(parts["factor"]), source=source)
    return _ranged(text_of(parts["range"], TIME), shown.rate, name, source)


def _only(parts: Mapping[str, Any], name: str, keys: tuple[str, ...]) -> None:
    """Nothing stands there that does not belong to the law, and nothing is missing."""
    known = ("law", *keys, "source")
    for key in parts:
        if key not in known:
            of = f"law {name}" if name else "a time without a law"
            near = nearest_name(key, known)
            raise FieldError(
                f"{key!r} does not belong to {of}", ", ".join(known), near, "delete or rename it"
            )
    for key in keys:
        if key not in parts:
            raise FieldError(f"{key} is missing", ", ".join(known), todo=f"add {key}: {ADD[key]}")


ADD = {"mean": "8 min", "median": "5 min", "factor": "3", "range": "1..4 min"}


def _ranged(text: str, rate: Rate, name: str, source: str) -> Law:
    made: Timing = asked(partial(parse_timing, text, rate), TIME)
    _ends(text, made.most)
    kind = "triangular" if "typically" in text else "uniform"
    kind = "fixed" if made.least == made.most else kind
    if name not in ("", kind):
        found, todo = f"law {name}, and {text!r} is {kind}", f"write law: {kind}, or another range"
        raise FieldError(found, kind, todo=todo)
    if kind == "fixed":
        return Law(kind, made.least, source=source)
    return Law(
        kind, made.least, made.most, made.typical if kind == "triangular" else 0, source=source
    )


def _some_time(value: Any, rate: Rate) -> int:
    text = text_of(value, "a time with its unit, as 8 min")
    made: int = asked(partial(parse_time, text, rate), "a time with its unit, as 8 min")
    _ends(text, made)
    if not made:
        raise FieldError(f"{text!r} is no time at all", "a time above 0", todo="write one above 0")
    return made


def _ends(text: str, flicks: int) -> None:
    if flicks >= FOREVER:
        todo = "say how long at most; what nobody mends needs no line"
        raise FieldError(f"{text!r} never ends", "a time that ends", todo=todo)


def _spread(value: Any) -> float:
    text = text_of(value, FACTOR)
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", text) or not 1 <= float(text) <= 1000:
        todo = "write 1 if it is always the median, more if it is not"
        raise FieldError(f"{text[:60]!r} is no factor of a lognormal time", FACTOR, todo=todo)
    return float(text)


def _chance(value: Any) -> float:
    return float(share(value))


def _pays(value: Any) -> Pays:
    """A share of the fee, or an amount (a number and its currency)."""
    text = text_of(value, "a share of the fee or an amount, as 15 % or 5 000 EUR")
    return share(text) if re.search(r"%$|^\S*[0-9]$", text) else money(text)


def _before(value: Any, info: ValidationInfo) -> int | None:
    allowed = "how long before the show, as 2 h, or never"
    text = text_of(value, allowed)
    if text == "never":
        return None
    made: int = asked(partial(parse_time, text, reading(info).rate), allowed)
    if made >= FOREVER:
        raise FieldError(f"{text!r} is no time before the show", allowed, todo="write never")
    return made


def _lasting(value: Any, info: ValidationInfo) -> int:
    return _some_time(value, reading(info).rate)


def _hours(value: Any, info: ValidationInfo) -> float:
    return _lasting(value, info) / (3600 * FLICKS)


Pays = Fraction | tuple[Fraction, str]
"""A share of the fee, or an amount and its currency."""
LAW_SCHEMA = {
    "anyOf": [
        TEXT,
        {
            "type": "object",
            "properties": {
                "law": {"enum": list(LAWS)}, "range": TEXT, "mean": TEXT, "median": TEXT,
                "factor": {"type": ["string", "number"]}, "source": TEXT,
            },
            "additionalProperties": False,
        },
    ]
}  # fmt: skip
LawText = Annotated[Law, plain(_law, LAW_SCHEMA)]
Chance = Annotated[float, plain(_chance, TEXT)]
PaysText = Annotated[Pays, plain(_pays, TEXT)]
BeforeText = Annotated[int | None, plain(_before, TEXT)]
Lasting = Annotated[int, plain(_lasting, TEXT)]
Hours = Annotated[float, plain(_hours, TEXT)]
FAMILIES = tuple(MODES)

__all__ = [
    "FAMILIES", "STATED", "BeforeText", "Chance", "Hours", "Lasting", "LawText", "Pays",
    "PaysText",
]  # fmt: skip
