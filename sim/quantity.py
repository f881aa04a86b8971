"""Numbers with units, as people write them.

In: a text such as `1 h 30 min` and the units that are allowed. Out: exact fractions by unit.
Whatever is wrong with the text is an `InputError` that says why; `where` is the place it names.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from fractions import Fraction

from sim.errors import InputError, nearest_name, refuse

SECONDS = {
    "us": Fraction(1, 10**6), "ms": Fraction(1, 1000), "s": Fraction(1), "min": Fraction(60),
    "h": Fraction(3600), "days": Fraction(86400),
}  # fmt: skip
"""Units of time, in seconds."""
METRES = {"m": Fraction(1), "km": Fraction(1000)}
"""Units of length, in metres."""
_SPELT = {
    "µs": "us", "μs": "us", "second": "s", "seconds": "s", "minute": "min", "minutes": "min",
    "hour": "h", "hours": "h", "day": "days", "frame": "frames", "line": "lines",
    "pixel": "pixels",
}  # fmt: skip
_PART = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*([^\W\d_]*)")
LONGEST = 40
"""Characters in a number; longer ones are refused."""


def quantities(text: str, allowed: Collection[str], where: str) -> dict[str, Fraction]:
    """`1 h 30 min` as {unit: number}, each unit at most once. Raises InputError.

    Numbers are plain decimals with a point; a unit is always required.
    """
    found: dict[str, Fraction] = {}
    at = 0
    while part := _PART.match(text, at):
        unit = _fresh_unit(text, part, found, allowed, where)
        found[unit] = Fraction(part[1])
        at = part.end()
    if text[at:].strip() or not found:
        wanted = f"a number and a unit: {', '.join(allowed)}"
        raise refuse(where, f"{shorten(text)} {_why(text)}", wanted)
    return found


def shorten(text: str) -> str:
    """A text in quotes, cut where nobody would read on."""
    return repr(text if len(text) <= 2 * LONGEST else text[: 2 * LONGEST] + "...")


def _fresh_unit(
    text: str, part: re.Match[str], found: Collection[str], allowed: Collection[str], where: str
) -> str:
    unit = _SPELT.get(part[2], part[2])
    if len(part[1]) > LONGEST:
        raise refuse(where, f"{shorten(text)} has too long a number", f"{LONGEST} digits")
    if unit not in allowed:
        raise _bad_unit(text, part[2], allowed, where)
    if unit in found:
        raise refuse(where, f"{text!r} names the unit {unit} twice", "each unit once")
    return unit


def _bad_unit(text: str, unit: str, allowed: Collection[str], where: str) -> InputError:
    units = ", ".join(allowed)
    if unit:
        near = {"m": "min"}.get(unit) if "min" in allowed else None
        near = near or nearest_name(unit, allowed)
        return refuse(where, f"{shorten(text)} has an unknown unit {shorten(unit)}", units, near)
    todo = f"write a unit after the number, one of {units}"
    if re.search("[0-9],[0-9]", text):
        point = re.sub("([0-9]),([0-9])", r"\1.\2", shorten(text)).strip("'\"")
        found, todo = (
            f"{shorten(text)} has a comma in a number",
            f"write a decimal point, not a comma: {point}",
        )
        return refuse(where, found, "numbers with a decimal point", todo=todo)
    return refuse(where, f"{shorten(text)} has a number without a unit", units, todo=todo)


def _why(text: str) -> str:
    if re.match(r"\s*[-\u2212]", text):
        return "is negative"
    if re.match(r"\s*[+]?\.?(nan|inf)", text, re.IGNORECASE):
        return "is not a finite number"
    return "is not a quantity" if text.strip() else "is empty"
