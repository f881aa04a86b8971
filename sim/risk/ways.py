"""A study sampled plainly as well, to hold the two ways against each other.

In: a finished `RiskStudy` by strata, the setting and sampling that it comes from. Out: the same
study with figures and differences of plain sampling, and both ways side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from sim.executing import Executor
from sim.risk import plain
from sim.risk.asked import RiskAsked
from sim.risk.bench import bench
from sim.risk.piles import Sampling
from sim.risk.plain import Plain
from sim.risk.results import Figure, Paired, RiskStudy, StratumRow, TopologyRisk
from sim.risk.setting import Setting
from sim.timebase import FLICKS

SHOWS = 20_000
"""Shows with at least one fault, unless asked."""
Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Plainly:
    """`main`: the topology that others are held against; who does the work; who is told of it."""

    main: int
    executor: Executor
    told: Told


def sampled_plainly(
    study: RiskStudy, of: Setting, made: Sampling, wanted: RiskAsked, how: Plainly
) -> RiskStudy:
    """The study with its figures sampled plainly. One whose strata were interrupted stays so."""
    if not made.finished:
        return study
    shows = SHOWS if wanted.shows is None else wanted.shows
    with bench(of.known, of, of.group, how.executor) as work:
        found = plain.plainly(work, wanted.seed, shows, how.main, how.told)
    labels = [stage.variant.label for stage in of.stages]
    places = {label: place for place, label in enumerate(labels)}
    if not found.shows:
        cut = tuple(replace(each, unfinished=True) for each in study.topologies)
        return replace(study, topologies=cut)
    return replace(
        study,
        plain=True,
        budget=shows,
        precision=0.0,
        topologies=tuple(
            each if each.reasons else _topology(each, of, found, places[each.variant.label])
            for each in study.topologies
        ),
        paired=tuple(_paired(study, found, places)),
        samplings=tuple(plain.compared(made, made.seconds, found)),
    )


def _topology(one: TopologyRisk, of: Setting, found: Plain, place: int) -> TopologyRisk:
    figures = tuple(_figure(figure, found, place) for figure in one.figures)
    loss = one.loss_expected and _figure(one.loss_expected, found, place)
    dark = next(figure for figure in figures if figure.key == "dark time")
    row = StratumRow("one or more", found.struck, "plainly", found.shows)
    return replace(
        one,
        figures=figures,
        loss_expected=loss,
        availability=1 - dark.found.value * FLICKS / of.fields[place].gauge.length,
        strata=(*one.strata, row),
        shows=found.shows,
        unfinished=not found.finished,
    )


def _figure(figure: Figure, found: Plain, place: int) -> Figure:
    return replace(figure, found=plain.estimate(found, place, _column(found, place, figure.key)))


def _column(found: Plain, place: int, key: str) -> int:
    return [value.key for value in found.values[place]].index(key)


def _paired(study: RiskStudy, found: Plain, places: dict[str, int]) -> Iterator[Paired]:
    for each in study.paired:
        place = places[each.label]
        column = _column(found, place, each.key)
        yield replace(each, found=plain.more(found, place, column))
