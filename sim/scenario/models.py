"""What may stand in a scenario file: wall groups, their layers and topologies, and all of it.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries with values
converted (flicks, metres, pixels, exact numbers) but nothing filled in: None means not said.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from sim.errors import nearest_name
from sim.rig.forms import FORMS
from sim.rig.plan import ROLES
from sim.scenario.entries import (
    CircuitEntry,
    Circuits,
    Entry,
    EquipmentEntry,
    FewCount,
    OnLoss,
    PlaceEntry,
    PlaceName,
    ReferenceEntry,
    References,
    RouteEntry,
    RunEntry,
    ShowEntry,
    SourceEntry,
    SourceName,
    Supplier,
    TimingName,
    TypeName,
    WallEntry,
    WallName,
    Walls,
    Words,
    said,
)
from sim.scenario.fields import (
    ANY_MANY,
    MANY,
    FieldError,
    Name,
    TimingText,
    Title,
    YesNo,
    ref,
    repeated,
    several,
    word,
)
from sim.scenario.numbers import Pixels, Point, count
from sim.scenario.rate_entries import RateEntry
from sim.scenario.risk_entries import (
    ContractEntry,
    CrewEntry,
    LoadInEntry,
    RiskEntry,
    TestedEntry,
    TogetherEntry,
)
from sim.scenario.stand_ins import FREE
from sim.scenario.stated import LimitEntry

TOPOLOGIES = tuple(FORMS)
Role = Annotated[str, word(*ROLES)]
NONE: Any = Field(default_factory=dict)
"""A mapping that need not be there."""


class ChoiceEntry(Entry):
    short = "source"
    source: SourceName = said("the name of a source", "camera")
    link: FewCount = 1
    same_picture: YesNo = False


def _one(value: Any) -> Any:
    """What is no list is a list of one."""
    return value if isinstance(value, list) or value == "" else [value]


def _some(value: Any) -> Any:
    several(value)
    again = repeated(value) if isinstance(value, list) else ""
    if again:
        raise FieldError(f"{again!r} a second time", "each source once", todo="delete one of them")
    return _one(value)


Choices = Annotated[
    tuple[ChoiceEntry, ...],
    BeforeValidator(_some, json_schema_input_type=ChoiceEntry | tuple[ChoiceEntry, ...]),
]


class LayerEntry(Entry):
    short = "choices"
    choices: Choices = said(
        "the source, or a list of sources in order of preference", "camera", alias="from"
    )
    at: Point = (0, 0)
    size: Pixels | None = None
    on_loss: OnLoss | None = None
    moving: YesNo | None = None

    @model_validator(mode="before")
    @classmethod
    def _bare_source(cls, value: Any) -> Any:
        return (
            {"from": value}
            if isinstance(value, list) or (isinstance(value, str) and value)
            else value
        )


class PlacementEntry(Entry):
    short = "layer"
    layer: Annotated[str, ref("layers")] = said("the name of a layer", "camera")
    at: Point | None = None
    size: Pixels | None = None


Placements = Annotated[
    tuple[PlacementEntry, ...],
    BeforeValidator(_one, json_schema_input_type=PlacementEntry | tuple[PlacementEntry, ...]),
]


class CablesEntry(Entry):
    trunk_main: RunEntry | None = None
    trunk_backup: RunEntry | None = None
    heads: RunEntry | None = None
    tails: RunEntry | None = None
    jumpers: RunEntry | None = None
    special: dict[str, RunEntry] = NONE


Senders = Annotated[tuple[str, ...], ANY_MANY]
"""Who feeds a leg: one, or the same twice for a seamless pair."""


class FormEntry(Entry):
    """A topology written out: units, relays with what they take in, who feeds heads and tails."""

    units: Annotated[tuple[Name, ...], MANY] = said("the units", "[unit-a]")
    relays: dict[str, tuple[Senders, ...]] = NONE
    heads: dict[str, str] = said("which unit or relay feeds which chains", '{"*": unit-a}')
    tails: dict[str, str] = NONE
    second: dict[str, str] = NONE
    backup_side: Words = ()
    several_walls: YesNo = False


def _topology(value: Any, info: ValidationInfo) -> Any:
    if (
        isinstance(value, str)
        and value
        and info.data.get("form", value) is None
        and value not in TOPOLOGIES
    ):
        raise FieldError(
            f"unknown topology {value!r}",
            ", ".join(TOPOLOGIES),
            nearest_name(value, TOPOLOGIES),
            "choose one, or write its nodes out under form",
        )
    return value


class VariantEntry(Entry):
    short = "topology"
    form: FormEntry | None = None
    topology: Annotated[Name, BeforeValidator(_topology)] = said("a backup topology", "relay-pair")
    label: Title | None = None
    routes: Annotated[str, word("given", "shared", "diverse")] = "given"
    power: Annotated[str, word("given", "single", "double")] = "given"
    references: Annotated[str, word("given", "one", "two")] = "given"
    fallback: Annotated[str, word("given", "none", "some")] = "given"
    cards: Annotated[int, count(1, 2)] = 1
    seamless: YesNo = False
    returns: Annotated[str, word("standing", "gated")] = "standing"


Variants = Annotated[
    tuple[VariantEntry, ...],
    BeforeValidator(_one, json_schema_input_type=VariantEntry | tuple[VariantEntry, ...]),
]


def _free(value: Any) -> Any:
    """The word none is an empty list."""
    return () if value == FREE else value


GroupReferences = Annotated[
    References, BeforeValidator(_free, json_schema_input_type=str | tuple[str, ...])
]
"""References in order of preference; `none`: each unit runs free."""


class GroupEntry(Entry):
    walls: Walls = ()
    mirrored: YesNo = False
    layers: dict[Name, LayerEntry] = NONE
    arrangements: dict[Name, Placements] = NONE
    copper: YesNo = False
    cables: CablesEntry = CablesEntry()
    power: dict[str, Circuits] = NONE
    kits: dict[Role, TypeName] = NONE
    own_kits: dict[str, TypeName] = NONE
    places: dict[str, PlaceName] = NONE
    suppliers: dict[str, Supplier] = NONE
    references: GroupReferences | None = None
    own_references: dict[str, References] = NONE
    shared: dict[str, str] = NONE
    offered: VariantEntry = said("the topology that is offered", "relay-pair")
    against: Variants = ()


class RegionEntry(Entry):
    wall: WallName = said("the wall it lies on", "main")
    cabinets: Title | None = None
    at: Point | None = None
    size: Pixels | None = None


class ControlEntry(Entry):
    short = "run"
    run: RunEntry = said("its way: a route or a length", "north")
    supplier: Supplier | None = None
    monitored: YesNo = False


def _listed_names(value: Any) -> Any:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        return value
    again = repeated(value)
    if again:
        raise FieldError(f"{again!r} a second time", "each name once", todo="delete one of the two")
    return {item: {} for item in value}


CircuitEntries = Annotated[
    dict[Name, CircuitEntry],
    BeforeValidator(
        _listed_names, json_schema_input_type=dict[str, CircuitEntry] | tuple[str, ...]
    ),
]


class ScenarioFile(Entry):
    """A whole scenario file."""

    show: ShowEntry = said("title, rate and length", "{title: ..., rate: 50, length: 2 h}")
    places: dict[Name, PlaceEntry] = NONE
    routes: dict[Name, RouteEntry] = NONE
    circuits: CircuitEntries = NONE
    equipment: dict[Name, EquipmentEntry] = NONE
    sources: dict[Name, SourceEntry] = NONE
    references: dict[Name, ReferenceEntry] = NONE
    walls: dict[Name, WallEntry] = said("at least one wall", "{main: {grid: 16 x 9, ...}}")
    regions: dict[Name, RegionEntry] = NONE
    audience: dict[Name, Walls] = NONE
    groups: dict[Name, GroupEntry] = said(
        "at least one group of walls", "{main: {offered: relay-pair, ...}}"
    )
    controls: dict[Name, ControlEntry] = NONE
    timings: dict[str, dict[TimingName, TimingText]] = NONE
    limits: tuple[LimitEntry, ...] = ()
    rates: tuple[RateEntry, ...] = ()
    rate_files: Words = ()
    proof_files: Words = ()
    crew: CrewEntry | None = None
    tested: tuple[TestedEntry, ...] = ()
    together: tuple[TogetherEntry, ...] = ()
    contract: ContractEntry | None = None
    load_in: LoadInEntry = LoadInEntry()
    risk: RiskEntry = RiskEntry()
