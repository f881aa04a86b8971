"""What may stand in a scenario file: one pydantic model for each kind of entry but groups.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries with values
converted (flicks, metres, pixels, exact numbers) but nothing filled in: None means not said.
The descriptions and examples here are what messages and the editor's schema show.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    ValidationInfo,
    model_validator,
)

from sim.rig.chains import CORNERS, WAYS
from sim.rig.kit import TIMINGS
from sim.rig.topology import ON_LOSS, RESTORES
from sim.scenario.fields import (
    ANY_MANY,
    MANY,
    CodeText,
    DelayText,
    FieldError,
    Flicks,
    PositionText,
    QualityWord,
    RateText,
    TimingText,
    Title,
    YesNo,
    reading,
    ref,
    word,
)
from sim.scenario.numbers import Grid, Metres, Pixels, Point, PriceText, count, exact

SUPPLIERS = ("us", "client", "venue", "broadcaster")

Supplier = Annotated[str, word(*SUPPLIERS)]
TimingName = Annotated[str, word(*TIMINGS)]
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
    def __get_pydantic_json_schema__(
        cls, core: Any, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
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


class Moment(Period):
    """A critical moment: what is lost in it counts so many times."""

    weight: Annotated[Fraction, exact("", "1", "1000")] | None = None


class ShowEntry(Entry):
    title: Title = said("what the show is called", "Night regatta")
    rate: RateText = said("the frame rate of the walls; it is never assumed", "59.94")
    length: Flicks = said("how long the show lasts", "3 h")
    start: CodeText = "00:00:00:00"
    bits: Annotated[str, word("8", "10", "12")] | None = None
    breaks: tuple[Period, ...] = ()
    critical: tuple[Moment, ...] = ()


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


LENGTH = re.compile(r"[-+\u2212]?\s*[0-9.]")
"""What begins as a length does: no name of a route begins with a sign."""


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
        routes = reading(info).names.get("routes", ())
        if isinstance(value, str) and LENGTH.match(value) and value not in (routes or ()):
            return {"length": value}
        return value

    @model_validator(mode="after")
    def _some_way(self) -> Self:
        if not self.over and self.length is None:
            raise FieldError(
                "neither a route nor a length",
                "a route, a list of routes, or a length",
                todo="name a route, or write a length as 20 m",
            )
        return self


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
    timings: dict[TimingName, TimingText] = Field(default_factory=dict)
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
    runs: dict[str, RunEntry] = Field(default_factory=dict)
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
    listed: tuple[Annotated[tuple[Title, ...], ANY_MANY], ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _list_or_way(cls, value: Any) -> Any:
        return {"listed": value} if isinstance(value, list) else value

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if bool(self.way) == bool(self.listed):
            found = "both a way and a list of chains" if self.way else "neither a way nor a list"
            raise FieldError(found, "one of the two", todo="write a way, as by column, or a list")
        return self


class WallEntry(Entry):
    grid: Grid = said("columns x rows of cabinets; it is never assumed", "16 x 9")
    pixels: Pixels = said("pixels of one cabinet, width x height; never assumed", "240 x 240 px")
    chains: ChainsEntry = said("how the data chains run", "by column")
    power: ChainsEntry | None = None
    circuits: tuple[Circuits, ...] = ()
    at: Point | None = None
