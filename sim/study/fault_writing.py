"""A fault as a line that reads back as the same fault: `cut main/trunk-main-1 at 20:10:00;00`.

In: a frozen `Fault`, the rig, the show's rate and start time code. Out: a text as
`fault_text.parse_fault` takes it, exact to a flick.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from sim.faults import Fault
from sim.rig.topology import Rig, selectors
from sim.timebase import FLICKS, Rate, parse_time, show_time
from sim.timecode import frames_in_day, time_code

DIGITS = Decimal("1e-12")
"""Of a second: a flick is more than a thousand of these."""


def fault_line(fault: Fault, rig: Rig, rate: Rate, start: str) -> str:
    """The text of a fault, its mode first."""
    return " ".join([fault.mode, fault.thing, *_words(fault, rig, rate, start)])


def _words(fault: Fault, rig: Rig, rate: Rate, start: str) -> Iterator[str]:
    if fault.choice is not None:
        yield f"to {_choice(fault, rig)}"
    yield "before the show" if fault.at < 0 else f"at {instant_line(fault.at, rate, start)}"
    if fault.until is not None:
        yield f"for {time_line(fault.until - fault.at, rate)}"
    if fault.period:
        yield f"every {time_line(fault.period, rate)} off {time_line(fault.off, rate)}"
    if fault.loss:
        yield f"by {Decimal(fault.loss) / 1000:f} dB"
    if fault.frames:
        yield f"losing {fault.frames} frames"
    if fault.hard:
        yield "hard"


def _choice(fault: Fault, rig: Rig) -> str:
    if isinstance(fault.choice, str):
        return fault.choice
    node = next(node for of, node in selectors(rig) if of.name == fault.thing)
    return node.inputs[fault.choice or 0]


def instant_line(flicks: int, rate: Rate, start: str) -> str:
    """An instant of the show: its time code if it is the begin of a frame that has one of its own,
    else a time from the start.
    """
    frame, beyond = divmod(flicks, rate.frame)
    if beyond or frame >= frames_in_day(rate):
        return time_line(flicks, rate)
    return time_code(frame, rate, start)


def time_line(flicks: int, rate: Rate) -> str:
    """A time as people write it if that is exact, else in seconds."""
    text = show_time(flicks, rate)
    if parse_time(text, rate) == flicks:
        return text
    return f"{(Decimal(flicks) / FLICKS).quantize(DIGITS):f} s"
