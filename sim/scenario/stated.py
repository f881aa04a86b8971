"""What a scenario promises: limits that no fault may break.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries: shares as exact
numbers, times in flicks.
"""

from __future__ import annotations

from typing import Annotated

from sim.scenario.entries import Entry, said
from sim.scenario.fields import Flicks, Title, ref, word
from sim.scenario.numbers import Share

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
