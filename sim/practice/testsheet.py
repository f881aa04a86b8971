"""The test sheet of a rig: which pulls, in which order, and what the model expects of each.

In: a frozen `Rig`. Out: a frozen `Sheet` of `Step`s, the safest for the hands first, each from a
rig that has its full redundancy. Times are flicks, frames those of the show.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from sim.engine.live import Live
from sim.engine.signal import Trace
from sim.practice.acts import Act
from sim.practice.cautions import RESTARTED, cautions_of
from sim.practice.filming import Filmed, Walls, film
from sim.practice.picked import Picked, picked
from sim.practice.protections import Protection, above
from sim.practice.pulls import RESTART, UNPLUG, Bench, Pull
from sim.rig.topology import Carrier, Merge, Node, Rig, corner
from sim.study.outcome import CORNERS
from sim.study.races import Ladder
from sim.timebase import FLICKS, FOREVER

ROUND, SPARE = 5 * FLICKS, 5 * FLICKS
"""A pull lasts until all has settled and so much longer, rounded up to whole fives of seconds."""
BATTERY = 60 * FLICKS
"""So long a battery carries in a test, if it lasts twice that."""


@dataclass(frozen=True, slots=True)
class Step:
    """One pull. `hold`: put it back after so long (None: it comes back by itself); `latest`: and no
    later than this, as a battery carries no longer (None: no matter); `whole`: by then after that
    all is as before, at most; `by_hand`: selectors that stay on their backup until somebody chooses
    back; `races`: pairs of selectors whose order the timings decide; `flashes`, `blinks`: as
    `Walls.flash`; `relied`: things that carried picture, step or power while it was pulled.
    """

    pull: Pull
    place: str
    acts: tuple[Protection, ...]
    filmed: Filmed
    hold: int | None
    latest: int | None
    whole: int
    by_hand: tuple[str, ...] = ()
    races: tuple[tuple[str, str], ...] = ()
    flashes: bool = False
    blinks: bool = False
    relied: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def bounded(self) -> bool:
        """Whether least and most hold wherever in their ranges the timings lie."""
        return not self.races


@dataclass(frozen=True)
class Sheet:
    """All steps, and how few they are."""

    steps: tuple[Step, ...]
    picked: Picked
    protections: tuple[Protection, ...]


def sheet(
    rig: Rig,
    wanted: Callable[[Protection], bool] = lambda each: True,
    places: Mapping[str, str] | None = None,
) -> Sheet:
    """The sheet for the protections that are wanted. `places`: where each thing is."""
    bench, walls = Bench(rig), Walls(rig)
    found = picked(bench, wanted)
    made = [step_of(bench, walls, pull, acts, places or {}) for pull, acts in found.tests]
    made.sort(key=lambda step: (step.pull.rank, step.filmed.lasting, step.filmed.part))
    return Sheet(tuple(made), found, tuple(filter(wanted, bench.protections)))


def step_of(
    bench: Bench, walls: Walls, pull: Pull, acts: frozenset[Protection], places: Mapping[str, str]
) -> Step:
    """What the model expects of one pull."""
    hold, latest = hold_of(bench, pull)
    traces = {which: bench.play(pull, corner(bench.rig, which), hold) for which in CORNERS}
    lines = {which: walls.lines(trace) for which, trace in traces.items()}
    flash = [walls.flash(trace) for trace in traces.values()]
    live = bench.held(pull)
    return Step(
        pull=pull,
        place=places.get(pull.on, ""),
        acts=tuple(p for p in bench.protections if p in acts),
        filmed=film(walls, lines, traces, hold),
        hold=hold,
        latest=latest,
        whole=max(trace.last for trace in traces.values()) - (hold or 0),
        by_hand=_left(bench, traces["typical"]),
        races=_races(bench, traces),
        flashes=any(often for often, _ in flash),
        blinks=any(once for _, once in flash),
        relied=tuple(_relied(bench, live, pull, acts)),
        cautions=(
            *([RESTARTED] if pull.do == RESTART else []),
            *cautions_of(_act(pull), bench.rig.things.get(pull.on)),
        ),
    )


def _act(pull: Pull) -> Act:
    """The act of a drill that asks the same of the hands."""
    do = "select" if pull.choices else {UNPLUG: "reseat", RESTART: "restart"}.get(pull.do, "swap")
    return Act(do, pull.on)


def hold_of(bench: Bench, pull: Pull) -> tuple[int | None, int | None]:
    """How long something stays pulled: until all has settled whatever the timings, and never for
    longer than half of what a battery that then carries lasts at least; and that latest time.
    """
    if pull.ends:
        return None, None
    ends = [bench.play(pull, corner(bench.rig, which)).last for which in CORNERS]
    hold = -(-(max(ends) + SPARE) // ROUND) * ROUND
    acting = (p.thing for p in bench.acts(pull) if p.kind == "battery")
    lasts = [bench.rig.timings[bench.rig.things[thing].hold_up].least for thing in acting]
    latest = min((least // 2 for least in lasts if least < FOREVER), default=None)
    return (hold if latest is None else min(max(hold, BATTERY), latest)), latest


def _left(bench: Bench, trace: Trace) -> tuple[str, ...]:
    """The selectors that still feed another input once all is back."""
    nodes = bench.wiring.nodes
    of = (getattr(nodes[number], "selector", None) for number in sorted(trace.chose))
    return tuple(selector.name for selector in of if selector is not None)


def _races(bench: Bench, traces: Mapping[str, Trace]) -> tuple[tuple[str, str], ...]:
    ladder = Ladder(bench.rig)
    found = (race for trace in traces.values() for race in ladder.races(trace.notes))
    return tuple(dict.fromkeys((race.before, race.behind) for race in found))


# ---- what carried the show while something was pulled


def _relied(bench: Bench, live: Live, pull: Pull, acts: frozenset[Protection]) -> Iterator[str]:
    """The things behind every protection that acted, and the unit that changed over."""
    found: dict[str, None] = {}
    for each in bench.protections:
        if each in acts:
            found[each.thing] = None
            found |= dict.fromkeys(_behind(bench, live, each))
    return (name for name in bench.rig.things if name in found and _stood(live, pull, name))


def _stood(live: Live, pull: Pull, name: str) -> bool:
    return name != pull.on and live.is_up(name)


def _behind(bench: Bench, live: Live, each: Protection) -> Iterator[str]:
    if each.kind in ("feed", "battery"):
        return iter((each.by,) if each.by else ())
    if each.kind == "holdover":
        return iter(())
    return (node.thing for node in _carrying(bench, live, each.by or each.name))


def _carrying(bench: Bench, live: Live, name: str) -> Iterator[Node]:
    """A node and all that its signal comes through as things stand."""
    waiting, known = [name], {name}
    while waiting:
        node = bench.rig.nodes[waiting.pop()]
        yield node
        fresh = [other for other in _fed_by(live, node) if other not in known]
        known.update(fresh)
        waiting += fresh


def _fed_by(live: Live, node: Node) -> tuple[str, ...]:
    selector = getattr(node, "selector", None)
    if selector is not None:
        on = live.chooser(selector.name).on
        return (node.inputs[on],) if on >= 0 else ()
    return above(node) if isinstance(node, Carrier | Merge) else node.inputs
