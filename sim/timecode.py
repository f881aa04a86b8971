"""Positions in a show: SMPTE ST 12-1 time code, and written instants.

In: frame numbers counted from 0 at the start of the show, or codes; out: codes, or frame numbers.
Where a rate has drop-frame counting it is always used, and printed with `;` before the frames.
At every rate the last field counts the frames of that rate (with three digits from 120 on).
"""

from __future__ import annotations

import re

from sim.errors import refuse
from sim.timebase import Rate, parse_time

MIDNIGHT = "00:00:00:00"
_CODE = re.compile(r"([0-9]{2}):([0-9]{2}):([0-9]{2})([:;])([0-9]{2,3})")


def frames_in_day(rate: Rate) -> int:
    """Frame numbers in 24 hours of time code."""
    return 24 * 60 * 60 * rate.base - rate.dropped * (24 * 60 - 24 * 6)


def time_code(frame: int, rate: Rate, start: str = MIDNIGHT) -> str:
    """The code of a frame, where frame 0 has the code `start`; wraps at 24 hours."""
    return _code((code_number(start, rate) + frame) % frames_in_day(rate), rate)


def frame_of_code(code: str, rate: Rate, start: str = MIDNIGHT, where: str = "time code") -> int:
    """The frame that has this code: the first one at or after the start. Raises InputError."""
    first = code_number(start, rate, where)
    return (code_number(code, rate, where) - first) % frames_in_day(rate)


def code_number(code: str, rate: Rate, where: str = "time code") -> int:
    """Frames since midnight. Raises InputError for a code that cannot be."""
    hours, minutes, seconds, frames = _fields(code, rate, where)
    minutes += 60 * hours
    dropped = rate.dropped * (minutes - minutes // 10)
    return (60 * minutes + seconds) * rate.base + frames - dropped


def parse_instant(text: str, rate: Rate, start: str = MIDNIGHT, where: str = "instant") -> int:
    """Flicks from the start of the show: a time (`2 h`, `120 frames`) or a time code."""
    if re.fullmatch(r"\s*\d+[:;][\d:;\s]*", text):
        return frame_of_code(text.strip(), rate, start, where) * rate.frame
    return parse_time(text, rate, where)


def _code(number: int, rate: Rate) -> str:
    number += _dropped_before(number, rate)
    seconds, frames = divmod(number, rate.base)
    minutes, mark = seconds // 60, ";" if rate.drop_frame else ":"
    width = len(str(rate.base - 1))
    return f"{minutes // 60:02}:{minutes % 60:02}:{seconds % 60:02}{mark}{frames:0{width}}"


def _dropped_before(number: int, rate: Rate) -> int:
    """Numbers left out before the frame that is `number` frames after midnight."""
    full, short = 60 * rate.base, 60 * rate.base - rate.dropped
    tens, rest = divmod(number, full + 9 * short)
    return rate.dropped * (9 * tens + (0 if rest < full else 1 + (rest - full) // short))


def _fields(code: str, rate: Rate, where: str) -> tuple[int, int, int, int]:
    found = _CODE.fullmatch(code)
    if not found:
        raise refuse(where, f"{code!r} is not a time code", "hh:mm:ss:ff, or hh:mm:ss;ff")
    hours, minutes, seconds, frames = (int(found[field]) for field in (1, 2, 3, 5))
    limits = (("hours", hours, 24), ("minutes", minutes, 60), ("seconds", seconds, 60))
    for name, value, limit in (*limits, ("frames", frames, rate.base)):
        if value >= limit:
            raise refuse(where, f"{code!r} has {value} {name}", f"0 to {limit - 1} at {rate.label}")
    if found[4] == ";" and not rate.drop_frame:
        todo = f"write {code.replace(';', ':')}"
        raise refuse(where, f"{code!r} is drop-frame, which {rate.label} has not", todo=todo)
    if minutes % 10 and not seconds and frames < rate.dropped:
        raise _left_out(code, rate, where)
    return hours, minutes, seconds, frames


def _left_out(code: str, rate: Rate, where: str) -> Exception:
    width = len(str(rate.base - 1))
    found = f"{code!r} does not exist at {rate.label}: drop-frame counting leaves it out"
    allowed = f"frames from {rate.dropped:0{width}} on, in second 00 of such a minute"
    nearest = f"{code[:8]};{rate.dropped:0{width}}"
    return refuse(where, found, allowed, nearest)
