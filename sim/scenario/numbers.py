"""Fields for numbers: counts, lengths, pixels, shares, prices, and exact numbers with a unit.

In: a written text. Out: whole numbers, metres, pixels (width, height), shares from 0 to 1, amounts
with their currency; never a float. Raises only `FieldError`.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Annotated, Any

from pydantic import PlainValidator

from sim.bounds import MOST_CABINETS
from sim.errors import nearest_name
from sim.scenario.fields import NUMBER, TEXT, FieldError, asked, plain, text_of
from sim.timebase import parse_metres

Size = tuple[int, int]

MOST_COUNT = 100_000
NUMERAL = re.compile(r"[+-]?[0-9]{1,15}(\.[0-9]{1,15})?")


def number(text: str, unit: str, allowed: str) -> Fraction:
    """`0.4 dB/km` as an exact number; the unit is required where there is one."""
    bare, _, rest = text.partition(" ") if unit else (text, "", "")
    joined = re.fullmatch(r"([+-]?[0-9.]+)\s*(\S*)", text)
    if unit and joined:
        bare, rest = joined[1], joined[2]
    if re.fullmatch(r"[+-]?(nan|inf|infinity|\.nan|\.inf)", bare, re.IGNORECASE):
        raise FieldError(f"{text!r} is not a finite number", allowed, todo="write a number")
    if not NUMERAL.fullmatch(bare):
        raise FieldError(f"{text!r} is not a number", allowed, todo=f"write {allowed}")
    if rest != unit:
        found = f"{text!r} has no unit" if not rest else f"{text!r} has an unknown unit {rest!r}"
        raise FieldError(found, allowed, unit if rest else "", f"write {bare} {unit}")
    return Fraction(bare)


def _number(value: Any, unit: str, least: str, most: str) -> Fraction:
    allowed = f"{least} to {most} {unit}".strip()
    text = text_of(value, allowed)
    made = number(text, unit, allowed)
    if not Fraction(least) <= made <= Fraction(most):
        raise FieldError(f"{text!r} is out of range", allowed, todo=f"write {allowed}")
    return made


def _count(value: Any, least: int, most: int) -> int:
    allowed = f"a whole number from {least} to {most}"
    text = text_of(value, allowed)
    if not re.fullmatch(r"[0-9]{1,15}", text):
        raise FieldError(f"{text!r} is not a whole number", allowed, todo=f"write {allowed}")
    if not least <= int(text) <= most:
        raise FieldError(f"{text!r} is out of range", allowed, todo=f"write {allowed}")
    return int(text)


def _metres(value: Any) -> Fraction:
    text = text_of(value, "a length with its unit, as 1.2 km")
    made: Fraction = asked(partial(parse_metres, text), "a length with its unit, as 1.2 km")
    if made > 1_000_000:
        raise FieldError(f"{text!r} is longer than any rig", "up to 1000 km", todo="check the unit")
    return made


def _pixels(value: Any) -> Size:
    return pair(text_of(value, "width x height in px, as 240 x 240 px"), "width x height in px", 1)


def _grid(value: Any) -> Size:
    text = text_of(value, "columns x rows, as 16 x 9")
    made = pair(f"{text} px", "columns x rows, as 16 x 9", 1, text)
    if made[0] * made[1] > MOST_CABINETS:
        raise FieldError(
            f"{text!r} makes more than {MOST_CABINETS} cabinets",
            f"up to {MOST_CABINETS} cabinets",
            todo="split the wall, or check the numbers",
        )
    return made


def _point(value: Any) -> Size:
    return pair(
        f"{text_of(value, 'x, y in pixels, as 480, 0')} px",
        "x, y in pixels, as 480, 0",
        0,
        str(value),
    )


PAIR = re.compile(r"(-?[0-9]{1,15})\s*(?:x|\u00d7|by|,)\s*(-?[0-9]{1,15})\s*(\S*)")


def pair(text: str, allowed: str, least: int, shown: str = "") -> Size:
    """`240 x 240 px`, `240 by 240 px` or `240, 240 px` as two whole numbers; `px` is required."""
    shown = shown or text
    found = PAIR.fullmatch(text.replace("\u2212", "-"))
    if found and "-" in found[1] + found[2]:
        raise FieldError(f"{shown!r} is negative", allowed, todo="write numbers from 0 up")
    if not found:
        raise FieldError(f"{shown!r} is not two numbers", allowed, todo=f"write {allowed}")
    if found[3] not in ("px", "pixels"):
        what = "no unit" if not found[3] else f"an unknown unit {found[3]!r}"
        raise FieldError(
            f"{shown!r} has {what}",
            allowed,
            "px" if found[3] else "",
            f"write {found[1]} x {found[2]} px",
        )
    made = (int(found[1]), int(found[2]))
    if not all(least <= n <= MOST_COUNT for n in made):
        raise FieldError(
            f"{shown!r} is out of range", f"{least} to {MOST_COUNT} each", todo="check the numbers"
        )
    return made


def money(value: Any) -> tuple[Fraction, str]:
    """`1200 EUR`, `12 500.50 EUR`: the amount and its code."""
    allowed = "an amount and its ISO 4217 code, as 1200 EUR"
    text = text_of(value, allowed)
    found = re.fullmatch(r"(\d{1,3}(?: \d{3})+(?:\.\d+)?|\S+?)\s*([^\W\d]*)", text)
    amount, code = (found[1].replace(" ", ""), found[2]) if found else (text, "")
    if re.match(r"[-\u2212]", text):
        raise FieldError(f"{text!r} is negative", allowed, todo="write an amount from 0 up")
    if not re.fullmatch(r"[0-9]{1,12}(\.[0-9]{1,4})?", amount):
        raise FieldError(f"{text!r} is not an amount of money", allowed, todo=f"write {allowed}")
    if code not in CURRENCIES:
        found_code = f"an unknown currency {code!r}" if code else "no currency"
        near = nearest_name(code.upper(), CURRENCIES) if code else ""
        raise FieldError(
            f"{text!r} has {found_code}", allowed, near, f"write {amount} and the code"
        )
    return Fraction(Decimal(amount)), code


CURRENCIES = tuple(
    """
    AED ARS AUD BGN BHD BRL CAD CHF CLP CNY COP CZK DKK EGP EUR GBP GEL HKD HUF IDR ILS
    INR ISK JOD JPY KES KRW KWD KZT LKR MAD MXN MYR NGN NOK NZD OMR PEN PHP PKR PLN QAR
    RON RSD SAR SEK SGD THB TND TRY TWD UAH USD UYU VND ZAR
    """.split()
)
"""Codes of ISO 4217 that are taken (values from memory; not the whole list)."""


def share(value: Any) -> Fraction:
    """`10 %` as a share from 0 to 1."""
    return _number(value, "%", "0", "100") / 100


PriceText = Annotated[tuple[Fraction, str], plain(money, TEXT)]
Metres = Annotated[Fraction, plain(_metres, TEXT)]
Pixels = Annotated[Size, plain(_pixels, TEXT)]
Grid = Annotated[Size, plain(_grid, TEXT)]
Point = Annotated[Size, plain(_point, TEXT)]
Share = Annotated[Fraction, plain(share, TEXT)]


def exact(unit: str, least: str, most: str) -> PlainValidator:
    """An exact number with its unit ("" = none)."""
    schema = TEXT if unit else NUMBER
    return plain(partial(_number, unit=unit, least=least, most=most), schema)


def count(least: int, most: int = MOST_COUNT) -> PlainValidator:
    """A whole number."""
    return plain(partial(_count, least=least, most=most), {"type": ["string", "integer"]})
