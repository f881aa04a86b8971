"""What the audience sees of one fault, in words: a blink by its frames, what lasts by its area.

In: a frozen `Sight`. Out: short texts such as `a blink: everything dark for 18..19 frames`, `94 %
dark, on and off, until mended`.
"""

from __future__ import annotations

from fractions import Fraction

from sim.limits.findings import grouped
from sim.report.risk_words import duration
from sim.report.words import frames, share
from sim.risk.sight import Sight
from sim.timebase import FLICKS

NOT_BY_ITSELF = "nothing by itself"
MANY = 1000
"""Of more frames than these the time says more."""


def sight_words(seen: Sight, mends: bool) -> str:
    """`mends`: whether anybody mends anything during the show."""
    if seen.unseen:
        return NOT_BY_ITSELF
    if not seen.lasting:
        return f"a blink: {_blink(seen)}"
    lasts = _lasting(seen, "until mended" if mends else "to the end of the show")
    return f"{lasts}; before that a blink: {_blink(seen)}" if seen.blink else lasts


def _blink(seen: Sight) -> str:
    what = "dark" if seen.blink_dark else "not as intended"
    return f"{_area(seen.blink)} {what} for {_frames(seen)}"


def _frames(seen: Sight) -> str:
    least, most = seen.frames
    if most > MANY:
        return f"{duration(seen.time)} ({grouped(least)} frames)"
    time = f" (within {duration(seen.time)})" if seen.time >= FLICKS else ""
    return f"{frames(seen.frames)} frame{'s' * (seen.frames != (1, 1))}{time}"


def _lasting(seen: Sight, until: str) -> str:
    parts = [f"{_area(seen.dark)} dark"] if seen.dark else []
    parts += [f"{_area(seen.spoilt)} not as intended"] if seen.spoilt else []
    return f"{' and '.join(parts)}{', on and off,' * seen.turns} {until}"


def _area(part: Fraction) -> str:
    return "everything" if part == 1 else share(part)
