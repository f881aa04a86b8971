"""For each act what happens at its beginning and at its end.

In: nothing. Out: `HANDS`. What is seen at once to be impossible costs little (`drill` decides); all
else costs its time.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.practice.commands import (
    ask,
    askable,
    call_break,
    choosable,
    command,
    fade,
    load,
    look,
    take,
    walk,
)  # fmt: skip
from sim.practice.handwork import (
    bypass,
    reseat,
    reseatable,
    restart,
    restartable,
    swap,
    swappable,
)  # fmt: skip
from sim.practice.settings import darken, light, patch, patchable
from sim.practice.touch import First, Last, at_unit, by_hand, free, nothing

HANDS: Mapping[str, tuple[First, Last]] = {
    "wait": (free, nothing),
    "look": (free, look),
    "ask": (askable, ask),
    "walk": (free, walk),
    "tell": (free, nothing),
    "select": (choosable, command),
    "take": (free, take),
    "fade": (free, fade),
    "lock": (choosable, command),
    "unlock": (choosable, command),
    "restart": (restartable, restart),
    "reseat": (reseatable, reseat),
    "swap": (swappable, swap),
    "re-patch": (patchable, patch),
    "bypass": (by_hand, bypass),
    "darken": (free, darken),
    "light": (free, light),
    "load": (at_unit, load),
    "break": (free, call_break),
}
"""For each act its beginning and its end."""
