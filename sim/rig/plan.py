"""What a rig is built from: frozen values in which nothing is unknown any more.

In: nothing (`scenario` or a person fills these in, with everything that was not said already
taken the unfavourable way). Out: `ShowPlan`, which `patterns.build` turns into a rig graph.
Times are flicks or `Timing` ranges of flicks, delays exact flicks, lengths metres, optical
figures thousandths of a dB, prices exact numbers in the show's one currency (None: not known).

*Patterns* are pairs (shell pattern, value); the first whose pattern matches a name counts. Names
inside a group have no group prefix: `unit-a`, `relay-main`, `left/relay-main`, `trunk-main-1`,
`chain-3/head`, `left/r2c3/receiver`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from sim.rig.kit import Chooser, Kit, Limits, Optics, Patterns, Run
from sim.rig.rates import OwnRate
from sim.rig.wall import Place, Placement, Region
from sim.timebase import Timing

__all__ = [
    "ArrangementPlan", "Cabling", "Choice", "Chooser", "CircuitPlan", "ControlPlan", "Form",
    "GroupPlan", "Kit", "LayerPlan", "Leg", "Limits", "Optics", "Options", "Patterns", "Place",
    "Placement", "ReferencePlan", "Region", "Run", "ShowPlan", "SourcePlan", "WallPlan",
]  # fmt: skip

NO_RUN = Run()
"""A cable of no length on no route."""


@dataclass(frozen=True, slots=True)
class CircuitPlan:
    """A power feed. `powered_by`: circuits that feed it (any one is enough); empty: the mains."""

    name: str
    powered_by: tuple[str, ...] = ()
    hold_up: Timing | None = None
    start: Timing | None = None
    supplier: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class ControlPlan:
    """A control link: it carries commands, no picture; a cut one darkens nothing by itself."""

    name: str
    run: Run = NO_RUN
    supplier: str = ""
    monitored: bool = False


@dataclass(frozen=True, slots=True)
class SourcePlan:
    """A source. `frame`: its own frame length in flicks. `links`: cables that carry its picture.

    `second` says how a unit after a group's first gets it: distributor, own or loop-through.
    With own, `own` names the source it takes instead, and `own_same` says whether that shows
    the same picture. `runs` are patterns over unit names ("main/unit-b"), "distributor" among
    them for the cables up to the distributor.
    """

    name: str
    kit: Kit
    cable: Kit
    frame: int = 0
    links: int = 1
    circuits: tuple[str, ...] = ()
    second: str = "distributor"
    distributor: Kit | None = None
    distributor_circuits: tuple[str, ...] = ()
    own: str = ""
    own_same: bool = False
    runs: Patterns[Run] = ()
    supplier: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class ReferencePlan:
    """A sync generator; `runs` are patterns over unit names."""

    name: str
    kit: Kit
    cable: Kit
    circuits: tuple[str, ...] = ()
    runs: Patterns[Run] = ()
    supplier: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """One input of a layer: link `link` (from 1) of a source.

    The first choice always shows the picture meant; `same_picture` tells it of a further one.
    """

    source: str
    link: int = 1
    same_picture: bool = False


@dataclass(frozen=True, slots=True)
class LayerPlan:
    """A layer: its inputs in order of preference; `on_loss` (empty: as the unit's kit)."""

    name: str
    choices: tuple[Choice, ...]
    on_loss: str = ""


@dataclass(frozen=True, slots=True)
class ArrangementPlan:
    """A prepared set of layers: rectangles of the group's picture in pixels, topmost first."""

    name: str
    placements: tuple[Placement, ...]


@dataclass(frozen=True, slots=True)
class WallPlan:
    """A wall: its grid, its cabinets' pixels, its data and power chains (from head to tail).

    `circuits` are dealt out to the power chains in turn; each entry is the circuits of one power
    chain (any one keeps it alive). (x, y) is where the wall's top left pixel lies in the picture
    of its group.
    """

    name: str
    rows: int
    columns: int
    cabinet_width: int
    cabinet_height: int
    chains: tuple[tuple[Place, ...], ...]
    power_chains: tuple[tuple[Place, ...], ...] = ()
    circuits: tuple[tuple[str, ...], ...] = ()
    x: int = 0
    y: int = 0


Leg = str | tuple[str, str]
"""What a relay takes in: one sender, or a seamless pair of trunks (both from one sender)."""


@dataclass(frozen=True, slots=True)
class Form:
    """A topology written as units, relays and who feeds whom.

    "{wall}/" in a name stands for each wall in turn (and for nothing where there is one only).
    `relays` gives each relay its legs in order of preference. `heads`, `tails` and `second`
    are patterns over chain names ("chain-3", "left/chain-3") to the unit or relay that feeds the
    head, sends the return, and feeds the second cards; a chain that matches none has none.
    `backup_side` names relays whose only trunk takes the backup run.
    """

    name: str
    units: tuple[str, ...]
    relays: tuple[tuple[str, tuple[Leg, ...]], ...] = ()
    heads: Patterns[str] = ()
    tails: Patterns[str] = ()
    second: Patterns[str] = ()
    backup_side: tuple[str, ...] = ()
    several_walls: bool = False


@dataclass(frozen=True, slots=True)
class Options:
    """What is varied on a topology; "given" takes what the plan describes.

    routes: given, shared (all trunks take the main run), diverse. power: given, single (first
    circuit only), double. references: given, one, two. fallback: given, none, some.
    cards: receiving cards per cabinet. seamless: each relay merges two trunks of one unit.
    returns: standing or gated.
    """

    routes: str = "given"
    power: str = "given"
    references: str = "given"
    fallback: str = "given"
    cards: int = 1
    seamless: bool = False
    returns: str = "standing"


@dataclass(frozen=True, slots=True)
class Cabling:
    """The runs of a group's cables; `special` are patterns over cable names, looked up first."""

    trunk_main: Run = NO_RUN
    trunk_backup: Run = NO_RUN
    head: Run = NO_RUN
    tail: Run = NO_RUN
    jumper: Run = NO_RUN
    special: Patterns[Run] = ()


ROLES = (
    "unit", "relay", "receiver", "port", "trunk", "patch", "jumper", "supply", "power-jumper",
)  # fmt: skip
"""What a group needs a kit for; `patch` is a chain's copper head or tail cable."""


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """Walls that are fed and backed up together. The first arrangement is the intended one.

    `kits` is keyed by role; `own_kits` are patterns over names, looked up first. `powered`,
    `places` and `suppliers` are patterns over names. `references` in order of preference;
    `own_references` are patterns over units. `reaches`: copper reaches from the units to the
    walls, so that single-feed, return-loop and two-unit need no relay. `shared` maps a role to
    the full name of a thing of another group that is meant ("unit-a" -> "main/unit-a").
    `form` is the group's own topology and counts if `topology` is its name.
    """

    name: str
    walls: tuple[WallPlan, ...]
    layers: tuple[LayerPlan, ...]
    arrangements: tuple[ArrangementPlan, ...]
    kits: Mapping[str, Kit]
    topology: str = "single-feed"
    form: Form | None = None
    options: Options = Options()
    mirrored: bool = False
    reaches: bool = False
    cabling: Cabling = Cabling()
    own_kits: Patterns[Kit] = ()
    powered: Patterns[tuple[str, ...]] = ()
    places: Patterns[str] = ()
    suppliers: Patterns[str] = ()
    references: tuple[str, ...] = ()
    own_references: Patterns[tuple[str, ...]] = ()
    shared: Mapping[str, str] = field(default_factory=dict)
    regions: tuple[Region, ...] = ()
    audience: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ShowPlan:
    """Everything needed to build the rig: `frame` and `length` in flicks; all names differ.

    `own_timings` maps the name of a thing to timings of its own, by field; `measured` keys of
    timings to what tests showed; `routes` a route to its length in metres.
    """

    frame: int
    length: int
    groups: tuple[GroupPlan, ...]
    sources: tuple[SourcePlan, ...]
    references: tuple[ReferencePlan, ...] = ()
    circuits: tuple[CircuitPlan, ...] = ()
    controls: tuple[ControlPlan, ...] = ()
    own_timings: Mapping[str, Mapping[str, Timing]] = field(default_factory=dict)
    measured: Mapping[str, Timing] = field(default_factory=dict)
    rates: tuple[OwnRate, ...] = ()
    routes: Mapping[str, Fraction] = field(default_factory=dict)
