"""What a scenario may say of how often something fails, and whether it can be counted so.

In: a tree of texts, through pydantic; the families that a rate is of. Out: frozen `RateEntry`s;
what is wrong with one as the parts of a message. Ages are flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, NamedTuple

from pydantic import Field

from sim.faults import CHANGEOVER, MODES, OCCASIONS, counted_per, modes_of
from sim.rig.placeholders import Rate
from sim.rig.rates import in_show
from sim.scenario.entries import Entry, TypeName, said
from sim.scenario.fields import Flicks, Title, word
from sim.scenario.ratetext import BY_HOUR, MOST, AmountText, FactorText, ShapeText
from sim.timebase import FLICKS, FOREVER

HOUR = 3600 * FLICKS
STATED_MODES = tuple(dict.fromkeys(mode for family in MODES for mode in modes_of(family)))
"""Every mode that a rate may be of."""


class RateEntry(Entry):
    """How often <mode> strikes: <things> by name, all of a <type>, or all of a <family>.

    With <shape> a Weibull law, of which the rate's MTBF is the mean life, from <age> on.
    """

    things: Title | None = None
    kit: TypeName | None = Field(default=None, alias="type")
    family: Annotated[str, word(*MODES)] | None = None
    mode: Annotated[str, word(*STATED_MODES)] = said("a fault mode", "dead")
    rate: AmountText = said(
        "how often: per h, year or show, MTBF, FIT, per load-in, mating, power-up or demand",
        "2 per year",
    )
    shape: ShapeText = 1.0
    age: Flicks = 0
    error_factor: FactorText | None = None
    source: Title = "stated in the scenario"

    @property
    def per(self) -> str:
        """What it counts by: "hour" or an occasion; a chance in a show counts by the hour."""
        return "hour" if self.rate.per in BY_HOUR else self.rate.per


class Wrong(NamedTuple):
    """A key that is wrong: what was found, what is allowed, the name to find the nearest to."""

    key: str
    found: str
    allowed: tuple[str, ...]
    near: str
    todo: str


def miscounted(entry: RateEntry, families: Iterable[str]) -> Iterator[Wrong]:
    """What is wrong with a rate of things of these families; at most one thing."""
    of = tuple(families)
    modes = tuple(dict.fromkeys(mode for each in of for mode in modes_of(each)))
    what = " or ".join(of)
    if entry.mode not in modes:
        found = f"{entry.mode!r} is no fault mode of a {what}"
        yield Wrong("mode", found, modes, entry.mode, "choose another")
    elif entry.rate.per == "km" and not {"fibre", "copper"} & {*of}:
        found = f"a rate for each km of a {what}"
        yield Wrong("rate", found, ("per h", "per year"), "", "only cables are long")
    else:
        yield from _per(entry, of, what)


def _per(entry: RateEntry, of: tuple[str, ...], what: str) -> Iterator[Wrong]:
    per = "show" if entry.rate.per == "show" else entry.per
    ways = dict.fromkeys(way for each in of for way in counted_per(each, entry.mode))
    if per not in ways:
        found, said = f"{entry.mode} of a {what} {_written(per)}", tuple(map(_written, ways))
        yield Wrong("rate", found, said, "", "count it by one of these")
    elif entry.rate.per in OCCASIONS:
        yield from _aged_chance(entry)
    elif entry.age and entry.shape == 1:
        todo = "add shape, or delete age: a rate that stays the same knows no age"
        yield Wrong("age", "age without shape", ("beside a shape",), "", todo)
    elif entry.age >= FOREVER:
        yield Wrong("age", "an age without end", ("hours, as 3000 h",), "", "say how old it is")
    elif in_show(Rate(entry.rate.value, 1.0, shape=entry.shape, age=entry.age / HOUR), 1.0) > MOST:
        found = "at that age more than one fails a second"
        yield Wrong("shape", found, ("fewer",), "", "check the age and the unit")


def _aged_chance(entry: RateEntry) -> Iterator[Wrong]:
    for key in ("shape", "age"):
        if getattr(entry, key) != {"shape": 1, "age": 0}[key]:
            found = f"{key} beside a chance {_written(entry.rate.per)}"
            yield Wrong(key, found, ("beside a rate per h, or MTBF",), "", "delete it")
            return


def _written(per: str) -> str:
    return f"per {'demand' if per == CHANGEOVER else per}"
