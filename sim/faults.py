"""What can go wrong: qualities of a signal, fault modes, and which mode strikes which kind of
thing.

In: nothing. Out: the vocabulary that every later stage shares, and the frozen values
`Fault`, `Action` and `Script`. Times are integer flicks from the start of the show.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Quality(IntEnum):
    """How good a signal is, worst first."""

    ABSENT = 0
    BLACK = 1
    CORRUPT = 2
    WRONG = 3
    FROZEN = 4
    UNLOCKED = 5
    GOOD = 6


STATE_NAMES = ("dark", "dark", "corrupt", "wrong", "frozen", "unlocked", "lit")
"""What a cell shows, by the quality that reaches it; absent and black are both dark."""

SOFT_CAPS = {
    "blanked": Quality.BLACK,
    "corrupt": Quality.CORRUPT,
    "stale": Quality.WRONG,
    "unlocked": Quality.UNLOCKED,
}
"""Modes that leave a thing alive but limit what it sends.

`stuck` is the fifth: it keeps a picture.
"""

SOFT = frozenset({*SOFT_CAPS, "stuck"})
ENDED_BY_RESTART = frozenset({"stuck", "blanked", "corrupt", "unlocked"})
"""What loss of power or a restart ends, unless the fault is marked hard."""

MODES: dict[str, tuple[str, ...]] = {
    "source": (
        "dead", "blanked", "stuck", "corrupt", "stale", "unlocked", "drops", "flapping", "restart",
    ),
    "reference": ("dead", "flapping", "restart"),
    "distributor": ("dead", "corrupt", "flapping", "restart"),
    "processor": (
        "dead", "blanked", "stuck", "corrupt", "stale", "unlocked", "flapping", "restart", "moved",
    ),
    "relay": ("dead", "blanked", "stuck", "corrupt", "flapping", "restart"),
    "port": ("dead", "corrupt", "flapping"),
    "fibre": ("cut", "attenuated", "corrupt", "flapping"),
    "copper": ("cut", "corrupt", "flapping"),
    "jumper": ("dead", "corrupt", "flapping"),
    "receiver": (
        "dead", "blanked", "stuck", "corrupt", "stale", "unlocked", "flapping", "restart",
    ),
    "supply": ("dead", "flapping", "restart"),
    "power-jumper": ("dead", "flapping"),
    "circuit": ("tripped",),
    "control-link": ("cut",),
    "selector": ("moved",),
}  # fmt: skip
"""The fault modes that the catalogue knows for each kind of thing."""


CHANGEOVER = "changeover"
"""The mode of a unit that was to change over and did not: it fails on demand, not by the hour."""
PATCH_ERROR = "patch error"
"""A cable plugged into the wrong place at load-in: its picture arrives, and is the wrong one."""
WHOLE_ROUTE = "whole route"
"""That a cut takes all that lies on a route with the one cable: so many of its cuts do."""
OCCASIONS = (CHANGEOVER, "show", "load-in", "mating", "power-up", "cut")
"""What a demand may be, on which something fails or does not."""
CHOOSERS = ("processor", "relay", "receiver", "selector")
"""Families that change over."""
CABLES = ("fibre", "copper", "jumper", "power-jumper", "control-link")
"""Families with two ends that are plugged at load-in."""
PICTURE_CABLES = ("fibre", "copper", "jumper")
"""Those that carry pictures, and can be plugged wrong."""
CUT = tuple(family for family, modes in MODES.items() if "cut" in modes)
"""Families that are cut, each by itself or with its whole route."""
SWITCHED_ON = (
    "source", "reference", "distributor", "processor", "relay", "receiver", "supply",
)  # fmt: skip
"""Families that are powered up before a show."""
OF_ITSELF = ("restart", "drops")
"""Modes that end of themselves."""
NEVER_BEFORE = frozenset({"restart", "drops", "moved"})
"""Modes that cannot be so already when the show starts: they happen, or somebody does them."""


def modes_of(family: str) -> tuple[str, ...]:
    """The modes that a rate may be stated for: those of the catalogue, and those on occasion."""
    changes = (CHANGEOVER,) if family in CHOOSERS else ()
    plugged = (PATCH_ERROR,) if family in PICTURE_CABLES else ()
    routed = (WHOLE_ROUTE,) if family in CUT else ()
    return (*MODES[family], *changes, *plugged, *routed)


def counted_per(family: str, mode: str) -> tuple[str, ...]:
    """Per what a rate of this mode may count: "hour" or occasions. What happens by the hour may be
    counted per show; what may be so already when a show starts, per load-in and the like.
    """
    if mode == CHANGEOVER:
        return (CHANGEOVER,)
    if mode == PATCH_ERROR:
        return ("load-in",)
    if mode == WHOLE_ROUTE:
        return ("cut",)
    if mode in NEVER_BEFORE:
        return ("hour", "show")
    mated = ("mating",) if family in CABLES else ()
    switched = ("power-up",) if family in SWITCHED_ON else ()
    return ("hour", "show", "load-in", *mated, *switched)


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one thing.

    `at` and `until` are flicks from the start of the show; a negative `at` means that it is
    already so before time 0 (not for flapping, drops, restart, moved); `until` None means that
    it lasts. `thing` names a thing, or for `moved` a selector (choice: input number from 0) or
    a processor (choice: an arrangement). `period` and `off` (flicks) belong to flapping, `loss`
    (thousandths of a dB) to attenuated, `frames` to drops. `hard`: no restart ends it.
    """

    thing: str
    mode: str
    at: int
    until: int | None = None
    hard: bool = False
    period: int = 0
    off: int = 0
    loss: int = 0
    frames: int = 0
    choice: int | str | None = None

    @property
    def ends(self) -> bool:
        """Whether it ends, of itself or at a time that it says."""
        return self.mode in OF_ITSELF or self.until is not None


@dataclass(frozen=True, slots=True)
class Action:
    """What an operator does on purpose at `at` (flicks): choose, lock, unlock (a selector), take
    (an arrangement on a processor).
    """

    at: int
    do: str
    on: str
    choice: int | str | None = None


@dataclass(frozen=True, slots=True)
class Script:
    """Everything that happens to a rig in one run; `failing` names selectors whose changeovers fail
    on demand.
    """

    faults: tuple[Fault, ...] = ()
    actions: tuple[Action, ...] = ()
    failing: frozenset[str] = frozenset()
