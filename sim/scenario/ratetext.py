"""How often something fails, as people write it.

In: a text such as `2 per year`, `12000 h MTBF`, `500 FIT`, `0.5 % per show`, `1e-4 per mating`.
Out: an `Amount`, a Weibull shape, an age in hours. Raises only `FieldError`. FIT counts failures in
10^9 hours (IEC 61709); a year is 8 760 hours.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import isfinite
from typing import Annotated, Any

from sim.faults import CHANGEOVER, OCCASIONS
from sim.rig.rates import chance_to_rate
from sim.scenario.fields import TEXT, FieldError, plain, text_of

YEAR = 8760
BILLION = 1e9
MOST = 3600.0
"""Failures an hour: one a second, and nobody would call that a failure."""
PER_HOUR = {"h": 1.0, "hour": 1.0, "day": 1 / 24, "year": 1 / YEAR}
ALLOWED = (
    "a rate such as 2e-5 per h, 2 per year, 12000 h MTBF, 500 FIT, 0.5 % per show, "
    "0.1 per km and year, 0.5 % per load-in, 1e-4 per mating, 0.1 % per power-up, 2 % per demand, "
    "20 % per cut"
)
OCCASION = {each: each for each in OCCASIONS if each != CHANGEOVER} | {"demand": CHANGEOVER}
"""What people write, and the occasion that it means."""
NUMBER = r"(?P<number>[0-9]{1,12}(?:\.[0-9]{1,12})?(?:[eE][+-]?[0-9]{1,3})?)"
BY_HOUR = ("hour", "km", "show")
"""What an amount may count per, that comes to a rate by the hour."""
FORMS = tuple(
    re.compile(form.replace("N", NUMBER))
    for form in (
        r"N (?P<what>h MTBF)",
        r"(?P<what>MTBF) N h",
        r"N (?P<what>FIT)",
        rf"N(?P<percent> ?%)? per (?P<what>{'|'.join(OCCASION)})",
        r"N per (?P<what>h|hour|day|year)",
        r"N per (?P<what>km and year)",
    )
)


@dataclass(frozen=True, slots=True)
class Amount:
    """A rate as written: `value` failures an hour, or an hour and km, or the chance in a show or on
    another occasion (`faults.OCCASIONS`).
    """

    value: float
    per: str = "hour"

    def per_hour(self, show_hours: float) -> float:
        """Failures an hour (for each km if `per` is km), for a show of so many hours."""
        return chance_to_rate(self.value, show_hours) if self.per == "show" else self.value


def amount(value: Any) -> Amount:
    """What a text says of how often something fails. Raises FieldError."""
    text = text_of(value, ALLOWED)
    words = " ".join(text.split())
    found = next((match for form in FORMS if (match := form.fullmatch(words))), None)
    if found is None:
        negative = words.startswith(("-", "\u2212"))
        what = f"{text[:60]!r} is {'negative' if negative else 'no rate'}"
        raise FieldError(what, ALLOWED, todo="write a number above 0, and per what it counts")
    number = float(found["number"])
    if (not number and found["what"] != "cut") or not isfinite(number):
        todo = "say how often at most; what never fails here needs no line"
        raise FieldError(f"{text[:60]!r} is not above 0 or not finite", ALLOWED, todo=todo)
    return _checked(text, _amount(found, number))


def _amount(found: re.Match[str], number: float) -> Amount:
    what = found["what"]
    if "MTBF" in what:
        return Amount(1 / number)
    if what == "FIT":
        return Amount(number / BILLION)
    if what in OCCASION:
        return Amount(number / 100 if found["percent"] else number, OCCASION[what])
    if what == "km and year":
        return Amount(number / YEAR, "km")
    return Amount(number * PER_HOUR[what])


def _checked(text: str, made: Amount) -> Amount:
    if made.per in OCCASIONS and made.value >= 1 and (made.per, made.value) != ("cut", 1):
        per = text.rsplit(maxsplit=1)[-1]
        todo = f"write the chance that it happens in one {per}, as 0.5 %; or a rate per h"
        raise FieldError(f"{text[:60]!r} is certain", f"a chance below 100 % per {per}", todo=todo)
    if made.value > MOST:
        todo = "check the unit"
        raise FieldError(f"{text[:60]!r} is more than one a second", "fewer", todo=todo)
    return made


AmountText = Annotated[Amount, plain(amount, TEXT)]


def _factor(value: Any) -> float:
    allowed = "a number from 1 to 1000, such as 3: the truth may be 3 times more or less"
    text = text_of(value, allowed)
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", text) or not 1 <= float(text) <= 1000:
        todo = "write 1 if it is certain, more if it is not"
        raise FieldError(f"{text[:60]!r} is no error factor", allowed, todo=todo)
    return float(text)


FactorText = Annotated[float, plain(_factor, {"type": ["string", "number"]})]


def _shape(value: Any) -> float:
    allowed = "a Weibull shape from 0.2 to 10: below 1 for early failures, above 1 for wear"
    text = text_of(value, allowed)
    if not re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,6})?", text) or not 0.2 <= float(text) <= 10:
        todo = "write 1, or leave it out, if age does not matter"
        raise FieldError(f"{text[:60]!r} is no such shape", allowed, todo=todo)
    return float(text)


ShapeText = Annotated[float, plain(_shape, {"type": ["string", "number"]})]
