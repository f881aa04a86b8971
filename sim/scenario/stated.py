"""What a scenario states about faults: limits that it must meet, and how often things fail.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries: shares as exact
numbers, times in flicks, rates as written.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sim.faults import MODES
from sim.scenario.entries import Entry, TypeName, said
from sim.scenario.fields import Flicks, Title, ref, word
from sim.scenario.numbers import Share
from sim.scenario.ratetext import AmountText, FactorText

EVERY_MODE = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
STATES = ("dark", "corrupt", "wrong", "frozen", "unlocked", "not lit")


class LimitEntry(Entry):
    """No <any> may make more than <over> of <of> <state> for more than <for>."""

    any: Annotated[str, word("single fault", "single dead or cut", "double fault")] = said(
        "single fault, single dead or cut, or double fault", "single fault"
    )
    state: Annotated[str, word(*STATES)] = said("a state: " + ", ".join(STATES), "dark")
    over: Share = said("a share that may not be exceeded", "10 %")
    of: Annotated[str, ref("areas")] = said(
        "wall, group, or the name of a wall, region or audience area", "wall"
    )
    time: Flicks = said("a time that may not be exceeded", "30 frames", alias="for")
    group: Annotated[str, ref("groups")] | None = None
    label: Title | None = None


class RateEntry(Entry):
    """How often <mode> strikes: <things> by name, all of a <type>, or all of a <family>."""

    things: Title | None = None
    kit: TypeName | None = Field(default=None, alias="type")
    family: Annotated[str, word(*MODES)] | None = None
    mode: Annotated[str, word(*EVERY_MODE)] = said("a fault mode", "dead")
    rate: AmountText = said("how often: per h, year or show, MTBF, FIT", "2 per year")
    error_factor: FactorText = 3.0
    source: Title = "stated in the scenario"
