"""What may stand in a scenario file: one pydantic model for each kind of entry.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries with values
converted (flicks, metres, pixels, exact numbers) but nothing filled in: None means not said.
The descriptions and examples here are what messages and the editor's schema show.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetJsonSchemaHandler, ValidationInfo
from pydantic import model_validator

from sim.chains import CORNERS, WAYS
from sim.errors import nearest_name
from sim.forms import FORMS
from sim.kit import TIMINGS
from sim.plan import ROLES
from sim.scenario_fields import (
    CodeText, DelayText, Flicks, Grid, Metres, Name, Pixels, Point, PositionText, PriceText,
    QualityWord, RateText, Share, TimingText, Title, Wrong, YesNo, MANY, count, exact, reading, ref, word,
)  # fmt: skip
from sim.topology import ON_LOSS, RESTORES

SUPPLIERS = ("us", "client", "venue", "broadcaster")
TOPOLOGIES = tuple(FORMS)
STATES = ("dark", "corrupt", "wrong", "frozen", "unlocked", "not lit")

Supplier = Annotated[str, word(*SUPPLIERS)]
TimingName = Annotated[str, word(*TIMINGS)]
Role = Annotated[str, word(*ROLES)]
OnLoss = Annotated[str, word(*ON_LOSS)]
Restore = Annotated[str, word(*RESTORES)]
AnyCount = Annotated[int, count(0)]
SomeCount = Annotated[int, count(1)]
FewCount = Annotated[int, count(1, 64)]
Decibel = Annotated[Fraction, exact("dB", "0", "60")]
TypeName = Annotated[str, ref("types")]
PlaceName = Annotated[str, ref("places")]
SourceName = Annotated[str, ref("sources")]
WallName = Annotated[str, ref("walls")]
Words = Annotated[tuple[str, ...], MANY]
Circuits = Annotated[tuple[Annotated[str, ref("circuits")], ...], MANY]
Routes = Annotated[tuple[Annotated[str, ref("routes")], ...], MANY]
References = Annotated[tuple[Annotated[str, ref("references")], ...], MANY]
Walls = Annotated[tuple[WallName, ...], MANY]


class Entry(BaseModel):
    """A mapping whose keys are all known; `short` names the key that a bare text fills."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    short: ClassVar[str] = ""

    @model_validator(mode="before")
    @classmethod
    def _fill_short(cls, value: Any) -> Any:
        if cls.short and (isinstance(value, list) or (isinstance(value, str) and value)):
            return {cls.short: value}
        return value

    @classmethod
    def __get_pydantic_json_schema__(cls, core: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        made = handler.resolve_ref_schema(handler(core))
        if not cls.short:
            return made
        return {"anyOf": [{"type": ["string", "number", "array"]}, made]}


def said(description: str, example: str, **more: Any) -> Any:
    """A field that must be there."""
    return Field(description=description, examples=[example], **more)


class Period(Entry):
    """A stretch of the show."""

    name: Title | None = None
    begin: PositionText = said("where it begins", "1 h 10 min", alias="from")
    end: PositionText = said("where it ends", "1 h 25 min", alias="to")


class ShowEntry(Entry):
    title: Title = said("what the show is called", "Night regatta")
    rate: RateText = said("the frame rate of the walls; it is never assumed", "59.94")
    length: Flicks = said("how long the show lasts", "3 h")
    start: CodeText = "00:00:00:00"
    bits: Annotated[str, word("8", "10", "12")] | None = None
    breaks: tuple[Period, ...] = ()
    critical: tuple[Period, ...] = ()


class PlaceEntry(Entry):
    short = "reach"
    reach: Annotated[str, word("always", "in breaks", "after the show")] = said(
        "when somebody can get there: always, in breaks, after the show", "always"
    )


class RouteEntry(Entry):
    short = "length"
    length: Metres = said("how long the route is; distances are never assumed", "1.2 km")
    supplier: Supplier | None = None
    place: PlaceName | None = None


class RunEntry(Entry):
    """The way of a cable: a route, a list of routes, or a bare length on no named route."""

    short = "over"
    over: Routes = ()
    length: Metres | None = None
    connectors: Annotated[int, count(0, 100)] | None = None
    splices: Annotated[int, count(0, 1000)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _length_or_route(cls, value: Any, info: ValidationInfo) -> Any:
        routes = reading(info).names.get("routes", frozenset())
        if isinstance(value, str) and value[:1].isdigit() and value not in routes:
            return {"length": value}
        return value


class CircuitEntry(Entry):
    fed_by: Circuits = Field((), alias="from")
    hold_up: TimingText | None = None
    start: TimingText | None = None
    supplier: Supplier | None = None
    place: PlaceName | None = None


class OpticsEntry(Entry):
    budget: Annotated[Fraction, exact("dB", "0", "60")] | None = None
    per_km: Annotated[Fraction, exact("dB/km", "0", "100")] | None = None
    per_connector: Annotated[Fraction, exact("dB", "0", "10")] | None = None
    per_splice: Annotated[Fraction, exact("dB", "0", "10")] | None = None


class ChooserEntry(Entry):
    short = "restore"
    restore: Restore | None = None
    accepts_above: QualityWord | None = None
    locked_on: FewCount | None = None


class EquipmentEntry(Entry):
    like: TypeName | None = None
    timings: dict[TimingName, TimingText] = {}
    ports: AnyCount | None = None
    ports_per_trunk: SomeCount | None = None
    trunks: AnyCount | None = None
    trunk_inputs: AnyCount | None = None
    inputs: AnyCount | None = None
    chain: SomeCount | None = None
    pixels: Annotated[int, count(1, 100_000_000)] | None = None
    line_width: SomeCount | None = None
    reach: Metres | None = None
    buffer: Flicks | None = None
    optics: OpticsEntry = OpticsEntry()
    picks: ChooserEntry = ChooserEntry()
    follows: ChooserEntry = ChooserEntry()
    on_loss: OnLoss | None = None
    loop_through: Annotated[str, word("none", "passive", "active")] | None = None
    drift: Annotated[Fraction, exact("ppm", "0", "100000")] | None = None
    delay: DelayText | None = None
    hop: DelayText | None = None
    index: Annotated[Fraction, exact("", "1", "3")] | None = None
    price: PriceText | None = None
    price_per_metre: PriceText | None = None
    crew: Annotated[int, count(0, 100)] | None = None
    supplier: Supplier | None = None
    monitored: YesNo | None = None


class FeedEntry(Entry):
    """What a source and a reference have in common."""

    kit: TypeName | None = None
    cable: TypeName | None = None
    circuits: Circuits = ()
    run: RunEntry | None = None
    runs: dict[str, RunEntry] = {}
    supplier: Supplier | None = None
    place: PlaceName | None = None


class SourceEntry(FeedEntry):
    short = "kit"
    rate: RateText | None = None
    links: FewCount | None = None
    split: Annotated[str, word("whole", "halves", "quadrants", "columns")] | None = None
    second: Annotated[str, word("distributor", "own", "loop-through")] | None = None
    distributor: TypeName | None = None
    distributor_circuits: Circuits = ()
    own: SourceName | None = None
    own_same: YesNo | None = None


class ReferenceEntry(FeedEntry):
    short = "kit"


class ChainsEntry(Entry):
    """How chains run: a way (`by column`), or lists of cabinets, head first."""

    short = "way"
    way: Annotated[str, word(*WAYS)] | None = None
    start: Annotated[str, word(*CORNERS)] = "top left"
    longest: SomeCount | None = None
    number: SomeCount | None = None
    listed: tuple[Annotated[tuple[Title, ...], MANY], ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _list_or_way(cls, value: Any) -> Any:
        return {"listed": value} if isinstance(value, list) else value


class WallEntry(Entry):
    grid: Grid = said("columns x rows of cabinets; it is never assumed", "16 x 9")
    pixels: Pixels = said("pixels of one cabinet, width x height; never assumed", "240 x 240 px")
    chains: ChainsEntry = said("how the data chains run", "by column")
    power: ChainsEntry | None = None
    circuits: tuple[Circuits, ...] = ()
    at: Point | None = None


class ChoiceEntry(Entry):
    short = "source"
    source: SourceName = said("the name of a source", "camera")
    link: FewCount = 1
    same_picture: YesNo = False


def _choices(value: Any) -> Any:
    return value if isinstance(value, list) or value == "" else [value]


class LayerEntry(Entry):
    short = "choices"
    choices: Annotated[tuple[ChoiceEntry, ...], BeforeValidator(_choices)] = said(
        "the source, or a list of sources in order of preference", "camera", alias="from"
    )
    at: Point = (0, 0)
    size: Pixels | None = None
    on_loss: OnLoss | None = None

    @model_validator(mode="before")
    @classmethod
    def _bare_source(cls, value: Any) -> Any:
        return {"from": value} if isinstance(value, list) or (isinstance(value, str) and value) else value


class PlacementEntry(Entry):
    short = "layer"
    layer: Annotated[str, ref("layers")] = said("the name of a layer", "camera")
    at: Point | None = None
    size: Pixels | None = None


class CablesEntry(Entry):
    trunk_main: RunEntry | None = None
    trunk_backup: RunEntry | None = None
    heads: RunEntry | None = None
    tails: RunEntry | None = None
    jumpers: RunEntry | None = None
    special: dict[str, RunEntry] = {}


class FormEntry(Entry):
    """A topology written out: units, relays with what they take in, who feeds heads and tails."""

    units: Words = said("the units", "[unit-a]")
    relays: dict[str, tuple[Words, ...]] = {}
    heads: dict[str, str] = {}
    tails: dict[str, str] = {}
    second: dict[str, str] = {}
    backup_side: Words = ()
    several_walls: YesNo = False


def _topology(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, str) and value and not info.data.get("form") and value not in TOPOLOGIES:
        raise Wrong(f"unknown topology {value!r}", ", ".join(TOPOLOGIES), nearest_name(value, TOPOLOGIES),
                    "choose one, or write its nodes out under form")  # fmt: skip
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


class GroupEntry(Entry):
    walls: Walls = ()
    mirrored: YesNo = False
    layers: dict[Name, LayerEntry] = {}
    arrangements: dict[Name, Annotated[tuple[PlacementEntry, ...], MANY]] = {}
    copper: YesNo = False
    cables: CablesEntry = CablesEntry()
    power: dict[str, Circuits] = {}
    kits: dict[Role, TypeName] = {}
    own_kits: dict[str, TypeName] = {}
    places: dict[str, PlaceName] = {}
    suppliers: dict[str, Supplier] = {}
    references: References = ()
    own_references: dict[str, References] = {}
    shared: dict[str, str] = {}
    offered: VariantEntry = said("the topology that is offered", "relay-pair")
    against: Annotated[tuple[VariantEntry, ...], BeforeValidator(_choices)] = ()


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


class LimitEntry(Entry):
    """No <any> may make more than <over> of <of> <state> for more than <for>."""

    any: Annotated[str, word("single fault", "double fault")] = said("single fault or double fault", "single fault")
    state: Annotated[str, word(*STATES)] = said("a state: " + ", ".join(STATES), "dark")
    over: Share = said("a share that may not be exceeded", "10 %")
    of: Annotated[str, ref("areas")] = said("wall, group, or the name of a wall, region or audience area", "wall")
    time: Flicks = said("a time that may not be exceeded", "30 frames", alias="for")
    group: Annotated[str, ref("groups")] | None = None
    label: Title | None = None


def _listed_names(value: Any) -> Any:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        return value
    for number, item in enumerate(value):
        if item in value[:number]:
            raise Wrong(f"{str(item)!r} a second time", "each name once", todo="delete one of the two")
    return {item: {} for item in value}


class ScenarioFile(Entry):
    """A whole scenario file."""

    show: ShowEntry = said("title, rate and length", "{title: ..., rate: 50, length: 2 h}")
    places: dict[Name, PlaceEntry] = {}
    routes: dict[Name, RouteEntry] = {}
    circuits: Annotated[dict[Name, CircuitEntry], BeforeValidator(_listed_names)] = {}
    equipment: dict[Name, EquipmentEntry] = {}
    sources: dict[Name, SourceEntry] = {}
    references: dict[Name, ReferenceEntry] = {}
    walls: dict[Name, WallEntry] = said("at least one wall", "{main: {grid: 16 x 9, ...}}")
    regions: dict[Name, RegionEntry] = {}
    audience: dict[Name, Walls] = {}
    groups: dict[Name, GroupEntry] = said("at least one group of walls", "{main: {offered: relay-pair, ...}}")
    controls: dict[Name, ControlEntry] = {}
    timings: dict[str, dict[TimingName, TimingText]] = {}
    limits: tuple[LimitEntry, ...] = ()
