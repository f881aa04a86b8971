"""What a static check has to say: one sentence, how grave it is, and what to do about it.

In: what a check found. Out: frozen `Finding`s, the gravest first. Figures are exact; the unit of
each stands in its name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.timebase import FLICKS

SEVERITIES = ("serious", "warning", "note")
"""serious: it cannot work as planned; warning: it may not, or only by luck; note: worth knowing."""

Figure = int | Fraction | str
KINDS = {
    "copper": "cable", "relay": "relay unit", "processor": "scaling unit", "supply": "power supply",
    "receiver": "receiving card", "power-jumper": "power jumper", "control-link": "control link",
}  # fmt: skip
PLACES = {
    "bank": "trunk input",
    "reference": "choice of reference",
    "screen": "input",
    "sync": "sync",
}


def kind_words(family: str) -> str:
    """What people call a family."""
    return KINDS.get(family, family)


def place_words(place: str) -> str:
    """A part of a thing: `bank 2` is trunk input 2."""
    if place.startswith("layer "):
        return f"input of {place}"
    pair = re.fullmatch(r"bank (\d+) pair (\d+)", place)
    if pair:
        return f"seamless pair {pair[2]} at trunk input {pair[1]}"
    return PLACES.get(place, place.replace("bank", "trunk input"))


def in_words(name: str) -> str:
    """A node or selector in a sentence: `input of the receiving card panel/r1c1`."""
    thing, mark, place = name.partition("#")
    if not mark or place == "out":
        return thing
    if place == "screen":
        where = thing.removesuffix("receiver").rstrip("/")
        return "input of the receiving card" + (f" of {where}" if where else "")
    return f"{place_words(place)} of {thing}"


def grouped(number: int) -> str:
    """A number in groups of three digits: `1 280 000`."""
    return f"{number:,}".replace(",", " ")


def half_up(value: Fraction) -> int:
    """To the nearest whole number, halves away from zero: all rounding of figures for people."""
    whole = (2 * abs(value) + 1) // 2
    return int(whole if value >= 0 else -whole)


def first_few(names: Sequence[str], most: int, between: str = ", ") -> str:
    """The first few, and how many more there are: `a, b and 8 more`."""
    more = len(names) - most
    return between.join(names[:most]) + (f" and {more} more" if more > 0 else "")


def decimal(value: Fraction, places: int = 4) -> str:
    """Rounded by `half_up`, without zeros at the end: `2`, `0.5`; `under 0.0001` where hardly
    anything.
    """
    if 0 < abs(value) * 10**places < Fraction(1, 2):
        return f"under {1 / 10**places:.{places}f}"
    whole, rest = divmod(half_up(abs(value) * 10**places), 10**places)
    shown = f"{whole}.{rest:0{places}}".rstrip("0").rstrip(".")
    return f"-{shown}" if value < 0 else shown


def micro(flicks: Fraction) -> str:
    """A time in microseconds, to a hundredth."""
    return f"{decimal(flicks / FLICKS * 10**6, 2)} µs"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. `kind` is the check that made it, `subject` the thing, wall or group meant."""

    severity: str
    kind: str
    subject: str
    text: str
    todo: str = ""
    figures: tuple[tuple[str, Figure], ...] = ()

    @property
    def values(self) -> Mapping[str, Figure]:
        """The figures by name."""
        return dict(self.figures)

    def __str__(self) -> str:
        todo = f" Do: {self.todo}." if self.todo else ""
        return f"{self.severity}: {self.subject}: {self.text}.{todo}"


def by_severity(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, the gravest first, else in the order in which they came."""
    return tuple(sorted(dict.fromkeys(found), key=lambda each: SEVERITIES.index(each.severity)))
