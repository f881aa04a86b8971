"""Time: flicks, frame rates, times and timings as people write and read them, delays.

In: what people write (`250 ms`, `1..20 frames`, `59.94`). Out: integer flicks, exact fractions, and
texts that people read. A unit is always required. Whatever is wrong with a
text is an `InputError`; `where` is the place that it names.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sim.errors import nearest_name, refuse
from sim.quantity import LONGEST, METRES, SECONDS, quantities, shorten

FLICKS = 705_600_000
"""Flicks in a second (Flicks, open specification, 2018)."""
FOREVER = 1 << 60
"""A time that no show outlasts; any time of at least this means for ever."""
GRADES = ("measured", "claim", "guess")
LIGHT = 299_792_458
"""Metres a second in vacuum (exact, by the definition of the metre)."""


@dataclass(frozen=True, slots=True)
class Timing:
    """A time that hardly anybody knows: a range in flicks, with how it is known and where from."""

    least: int
    typical: int
    most: int
    grade: str = "guess"
    source: str = ""
    shelters: bool = False

    def at(self, corner: str) -> int:
        """The value at a corner of the range: all-least, typical or all-most."""
        if corner == "typical":
            return self.typical
        if corner not in ("all-least", "all-most"):
            raise ValueError(f"corner {corner!r}: all-least, typical or all-most")
        return self.most if (corner == "all-least") == self.shelters else self.least


def fixed(flicks: int, grade: str = "measured", source: str = "") -> Timing:
    """A timing that is one value."""
    return Timing(flicks, flicks, flicks, grade, source)


@dataclass(frozen=True, slots=True)
class Rate:
    """A frame rate: frames a second (exact), flicks in a frame, numbers dropped each minute (or 0).

    `base` is the count of frame numbers in a second of time code.
    """

    label: str
    per_second: Fraction
    frame: int
    base: int
    dropped: int = 0

    @property
    def drop_frame(self) -> bool:
        """Whether time code at this rate is counted drop-frame."""
        return self.dropped > 0


def _rate(label: str, base: int, over: int = 1, dropped: int = 0) -> Rate:
    per_second = Fraction(base * 1000, 1001) if over == 1001 else Fraction(base)
    return Rate(label, per_second, int(FLICKS / per_second), base, dropped)


RATES = (
    _rate("23.976", 24, 1001), _rate("24", 24), _rate("25", 25), _rate("29.97", 30, 1001, 2),
    _rate("30", 30), _rate("48", 48), _rate("50", 50), _rate("59.94", 60, 1001, 4),
    _rate("60", 60), _rate("100", 100), _rate("119.88", 120, 1001, 8), _rate("120", 120),
)  # fmt: skip
"""29.97 drops 2 numbers a minute (SMPTE ST 12-1), 59.94 drops 4 (practice); 119.88 drops 8 by the
same rule, which no standard says."""
_ALIASES = {Fraction(r.label): r for r in RATES} | {Fraction("23.98"): RATES[0]}
_BY_VALUE = _ALIASES | {r.per_second: r for r in RATES}


_RATE = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?|[0-9]{1,9}/0*[1-9][0-9]{0,8}")
_RATE_AND_UNIT = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?)\s*(?![eE][0-9])([^\W\d_][\w ./]*)")


def rate(text: str, where: str = "frame rate") -> Rate:
    """The rate that people call so: 59.94 means 60000/1001.

    Raises InputError that names the nearest ones.
    """
    labels = ", ".join(r.label for r in RATES)
    with_unit = _RATE_AND_UNIT.fullmatch(text.strip())
    if with_unit:
        found = f"{text!r} has the unit {with_unit[2]!r}; a frame rate stands without one"
        raise refuse(where, found, labels, todo=f"write {with_unit[1]} alone")
    if not _RATE.fullmatch(text.strip()):
        near = nearest_name(text, labels.split(", "))
        raise refuse(where, f"{text!r} is not a frame rate", labels, near)
    value = Fraction(text.strip())
    if value not in _BY_VALUE:
        two = sorted(RATES, key=lambda r: abs(r.per_second - value))[:2]
        near = " or ".join(r.label for r in two)
        raise refuse(where, f"unknown frame rate {text!r}", labels, near)
    return _BY_VALUE[value]


def to_flicks(seconds: Fraction | float) -> int:
    """Seconds to the nearest flick, halves to the even one. The only place that rounds times."""
    top, bottom = seconds.as_integer_ratio()
    whole, rest = divmod(top * FLICKS, bottom)
    return whole + (2 * rest > bottom or (2 * rest == bottom and whole % 2 == 1))


def whole_frames(length: int, rate: Rate) -> int:
    """Frames that count in a show of `length` flicks: floor(length x rate)."""
    return length // rate.frame


def frame_times(flicks: int, rate: Rate) -> Fraction:
    """A time in frames (exact)."""
    return Fraction(flicks, rate.frame)


def _is_for_ever(text: str) -> bool:
    return " ".join(text.split()) in ("for ever", "forever")


def parse_time(text: str, rate: Rate | None, where: str = "time") -> int:
    """A written time in flicks: `250 ms`, `0.5 frames`, `1 h 30 min`, `for ever` (FOREVER).

    Without a rate, frames are refused. Raises InputError: no unit, negative, not finite, absurd.
    """
    if _is_for_ever(text):
        return FOREVER
    allowed = [*SECONDS, "frames"] if rate else [*SECONDS]
    found = quantities(text, allowed, where)
    frames = found.pop("frames", Fraction(0)) / (rate.per_second if rate else 1)
    flicks = to_flicks(frames + sum(n * SECONDS[unit] for unit, n in found.items()))
    if flicks >= FOREVER:
        raise refuse(where, f"{text!r} is longer than any show", todo="write: for ever")
    return flicks


def parse_metres(text: str, where: str = "length") -> Fraction:
    """A written length in metres (exact): `1.2 km`, `80 m`. Raises InputError."""
    return sum((n * METRES[u] for u, n in quantities(text, METRES, where).items()), Fraction(0))


_RANGE = re.compile(r"\s*(.*?)(?:\s*\.\.\s*(.*?))?(?:\s*,\s*typically\s+(.*?))?\s*", re.DOTALL)


def parse_timing(
    what: str | Mapping[str, str], rate: Rate | None, grade: str = "guess", source: str = "",
    shelters: bool = False, where: str = "timing",
) -> Timing:  # fmt: skip
    """A range: `1..20 frames, typically 3`, `100 ms .. 3 s`, `50 ms`, or {least, typical, most}.

    A bare number takes the unit of its neighbour. Typical, if not given, is the middle, rounded
    down to a flick. Raises InputError also where not least <= typical <= most.
    """
    if grade not in GRADES:
        near = nearest_name(grade, GRADES)
        raise refuse(where, f"unknown grade {grade!r}", ", ".join(GRADES), near)
    parts = _written(what, where) if isinstance(what, str) else _given(what, where)
    least, most = parse_time(parts["least"], rate, where), parse_time(parts["most"], rate, where)
    if "typical" not in parts and least < FOREVER <= most:
        raise refuse(where, "a range up to for ever has no middle", todo="add: , typically ...")
    middle = (least + most) // 2
    typical = parse_time(parts["typical"], rate, where) if "typical" in parts else middle
    if not least <= typical <= most:
        raise refuse(where, f"{what!r} is out of order", "least <= typical <= most")
    return Timing(least, typical, most, grade, source, shelters)


def _given(parts: Mapping[str, str], where: str) -> dict[str, str]:
    allowed = ("least", "typical", "most")
    for key in parts:
        if key not in allowed:
            near = nearest_name(key, allowed)
            raise refuse(where, f"unknown part {key!r}", ", ".join(allowed), near)
    if "least" not in parts or "most" not in parts:
        raise refuse(where, "a range needs both least and most", ", ".join(allowed))
    return dict(parts)


def _written(text: str, where: str) -> dict[str, str]:
    if len(text) > 4 * LONGEST:
        raise refuse(where, f"{shorten(text)} is too long", "1..20 frames, typically 3")
    found = _RANGE.fullmatch(text)
    least, most, typical = found.groups() if found else (text, None, None)
    unit = _unit(most or "") or _unit(least)
    parts = {"least": _lend(least, unit), "most": _lend(least if most is None else most, unit)}
    return parts if typical is None else parts | {"typical": _lend(typical, unit)}


def _unit(text: str) -> str:
    found = re.search(r"[^\W\d_]+$", text)
    return found[0] if found and not _is_for_ever(text) else ""


def _lend(text: str, unit: str) -> str:
    return f"{text} {unit}" if re.fullmatch(r"[0-9]*\.?[0-9]+", text) else text


def show_time(flicks: int, rate: Rate) -> str:
    """A time for people: `250 ms`, `5 frames`, `1 h 3 min 20.5 s`, `for ever`.

    In order: whole milliseconds; whole frames under 10 s; else rounded (a thousandth of the unit).
    """
    if flicks < 0:
        return f"-{show_time(-flicks, rate)}"
    if flicks >= FOREVER:
        return "for ever"
    if flicks % (FLICKS // 1000) and flicks % rate.frame == 0 and flicks < 10 * FLICKS:
        return f"{flicks // rate.frame} frame{'s' * (flicks != rate.frame)}"
    return clock_time(flicks)


def clock_time(flicks: int) -> str:
    """A time of 0 or more for people, never in frames: for columns, in which one unit follows
    from another. `250 ms`, `33.367 ms`, `1 h 3 min 20.5 s`; rounded to a thousandth of the unit.
    """
    for unit, size in (("µs", 10**6), ("ms", 1000)):
        if 0 < (thousandths := round(Fraction(flicks * size * 1000, FLICKS))) < 10**6:
            return f"{_decimal(thousandths)} {unit}"
    return _long(round(Fraction(flicks * 1000, FLICKS)))


def _decimal(thousandths: int) -> str:
    whole, rest = divmod(thousandths, 1000)
    return f"{whole}.{rest:03}".rstrip("0").rstrip(".")


def _long(thousandths: int) -> str:
    minutes, seconds = divmod(thousandths, 60_000)
    days, hours = divmod(minutes // 60, 24)
    parts = ((days, "days" if days != 1 else "day"), (hours, "h"), (minutes % 60, "min"))
    texts = [f"{n} {unit}" for n, unit in parts if n]
    return " ".join([*texts, f"{_decimal(seconds)} s"] if seconds or not texts else texts)


@dataclass(frozen=True, slots=True)
class Delay:
    """What a unit adds to the picture's way: frames, lines, pixels, and time in seconds (exact)."""

    frames: Fraction = Fraction(0)
    lines: Fraction = Fraction(0)
    pixels: Fraction = Fraction(0)
    time: Fraction = Fraction(0)

    def flicks(self, frame: int, raster: tuple[int, int]) -> Fraction:
        """Flicks (exact), for `frame` flicks in a frame and a raster of (width, height) pixels."""
        width, height = raster
        lines = self.lines + self.pixels / width
        return (self.frames + lines / height) * frame + self.time * FLICKS


_DELAYS = ("frames", "lines", "pixels", "us", "ms", "s")


def parse_delay(text: str, where: str = "delay") -> Delay:
    """A written delay: `1 frame + 512 pixels`, `3 lines`, `40 us`. Raises InputError."""
    if not all(part.strip() for part in text.split("+")):
        raise refuse(where, f"{text!r} has an empty part", "such as 1 frame + 512 pixels")
    found = quantities(text.replace("+", " "), _DELAYS, where)
    time = sum((n * SECONDS[unit] for unit, n in found.items() if unit in SECONDS), Fraction(0))
    return Delay(time=time, **{unit: n for unit, n in found.items() if unit not in SECONDS})


def fibre_delay(metres: Fraction, index: Fraction) -> Fraction:
    """Flicks (exact) that light takes through fibre of a group index: index x length / c."""
    return metres * index / LIGHT * FLICKS


def slip_interval(rate: Rate, ppm: Fraction) -> Fraction:
    """Seconds between slipped frames at a drift in parts per million: 1 / (f x |drift|)."""
    return 10**6 / (rate.per_second * abs(ppm))
