"""What somebody must be told before he lays hands on something: power, height, fibre, flashing.

In: an act and the thing that it is done to. Out: sentences. They replace no local code and no
licensed practice.
"""

from __future__ import annotations

from sim.practice.acts import Act
from sim.rig.topology import Thing

POWER = (
    "Power: electrical work only by qualified people under local codes; isolate before touching. "
    "Close a tripped breaker only if they judge it safe; only once."
)
HEIGHT = (
    "Height: work above the ground only by trained people, secured, by local rules, with nobody "
    "below and nothing loose."
)
FIBRE = "Fibre: never look into a fibre or a connector (IEC 60825-2)."
FLASHING = (
    "Flashing: a region that comes and goes more than three times in a second can harm "
    "photosensitive viewers (ITU-R BT.1702, WCAG 2.3.1): darken it."
)
RESTARTED = (
    "Restart: it gives no picture and hands nothing on until it has started. Only whoever answers "
    "for it does it, and only while nothing is on show or the show caller has said yes."
)
HANDS_ON = frozenset({"restart", "reseat", "swap", "re-patch", "bypass"})
POWERED = frozenset({
    "circuit", "supply", "power-jumper", "processor", "relay", "source", "reference", "distributor",
    "receiver",
})  # fmt: skip
LIVE = frozenset({"circuit", "power-jumper"})
"""What carries power itself, whatever is done to it."""
AT_WALL = frozenset({"receiver", "jumper", "supply", "power-jumper", "copper"})
LIT = frozenset({"fibre", "relay"})


def cautions_of(act: Act, thing: Thing | None) -> tuple[str, ...]:
    """What goes with an act."""
    if act.do in ("darken", "light"):
        return (FLASHING,)
    if act.do not in HANDS_ON or thing is None:
        return ()
    family = thing.family
    power = family in POWERED and (act.do in ("swap", "bypass") or family in LIVE)
    height = family in AT_WALL and bool(thing.group)
    return tuple(
        text
        for text, due in ((POWER, power), (HEIGHT, height), (FIBRE, family in LIT))
        if due and (text != FIBRE or act.do != "restart")
    )
