"""How long it takes to look or to try, and what to mind where hands are sent.

In: nothing. Out: `EFFORTS`, minutes by kind of look or test, with sources; `CAUTIONS`. All of it is
from memory; a crew that has timed itself knows better.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sim.rig.figures import PLACEHOLDER, TRADE

SOURCE = f"{PLACEHOLDER}; {TRADE}"


@dataclass(frozen=True, slots=True)
class Effort:
    """Minutes that a look or a test takes, the way there included."""

    minutes: float
    source: str = SOURCE


EFFORTS: Mapping[str, Effort] = {
    "look at a wall": Effort(0.25),
    "read the alarms": Effort(0.25),
    "ask a unit for its report": Effort(0.5),
    "stand before a unit": Effort(4.0),
    "put in another source": Effort(3.0),
    "put in another port": Effort(5.0),
    "put in another cable": Effort(6.0),
    "put in another jumper": Effort(12.0),
    "put in another receiver": Effort(15.0),
    "put in another supply": Effort(15.0),
    "put in another power-jumper": Effort(12.0),
    "put in another fibre": Effort(8.0),
    "put in another unit": Effort(20.0),
    "have a circuit measured": Effort(10.0),
    "put it back by hand": Effort(1.0),
}
"""Minutes by kind."""

POWER = (
    "Power: only qualified people work on it, under local codes; isolate and prove dead before "
    "touching. Close a tripped breaker only if they judge it safe; only once."
)
HEIGHT = (
    "Height: behind and above a wall only trained people, secured, with nothing loose over "
    "anybody's head, under local rules for work at height."
)
FIBRE = (
    "Fibre: never look into a fibre or a connector, lit or not (IEC 60825-2); switch the sender "
    "off where you can, and clean before you plug."
)
FLASHING = (
    "Flashing: reseating and swapping make a wall blink. Darken the region first: more than three "
    "flashes in a second over a quarter of the screen can harm photosensitive viewers "
    "(ITU-R BT.1702, WCAG 2.3.1)."
)
BY_FAMILY: Mapping[str, tuple[str, ...]] = {
    "circuit": (POWER,),
    "supply": (POWER, HEIGHT),
    "power-jumper": (POWER, HEIGHT),
    "jumper": (HEIGHT, FLASHING),
    "receiver": (POWER, HEIGHT, FLASHING),
    "fibre": (FIBRE, FLASHING),
    "copper": (FLASHING,),
    "port": (FLASHING,),
    "processor": (POWER, FLASHING),
    "relay": (POWER, FIBRE, FLASHING),
    "source": (FLASHING,),
    "reference": (),
    "distributor": (POWER, FLASHING),
    "control-link": (),
}
"""What to mind where something of a family is swapped."""
SWAPS: Mapping[str, str] = {
    "source": "put in another source",
    "reference": "put in another source",
    "distributor": "put in another unit",
    "processor": "put in another unit",
    "relay": "put in another unit",
    "port": "put in another port",
    "fibre": "put in another fibre",
    "copper": "put in another cable",
    "control-link": "put in another cable",
    "jumper": "put in another jumper",
    "receiver": "put in another receiver",
    "supply": "put in another supply",
    "power-jumper": "put in another power-jumper",
    "circuit": "have a circuit measured",
}
"""The kind of test that a family takes."""
