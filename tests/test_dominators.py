"""Single points of the engine are dominators of the graph: on every topology, on random rigs.

In: every topology with options, random rigs whose selectors are all automatic. Out: for each cell
the things whose `dead` (or cut) leaves it not lit, lasting, by the engine; they equal the
dominators (the definition is Lengauer and Tarjan 1979, from memory). Circuits, what hangs on
them, and routes equal removal and reachability.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from sim.engine.run import run
from sim.engine.signal import Trace, cell_lines, cell_quality
from sim.faults import Fault, Script
from sim.rig.refusals import cannot
from sim.rig.topology import Node, Rig, corner
from sim.timebase import FLICKS, FOREVER
from tests import dominators
from tests.dominators import Cell, down_with
from tests.labs import MIRRORED, ONE_WALL, lit_everywhere, plan_for, rig_of
from tests.plans import group, show, wall
from tests.rig_scripts import TICK
from tests.rigs import seeded

SEEDS = range(450)
SETTLED = 400 * TICK
LINKS = ("fibre", "copper", "jumper")


def ended(rig: Rig, faults: Iterable[Fault]) -> Trace:
    """A run that has settled: no timer is left that ever runs out."""
    trace = run(rig, Script(tuple(faults)), corner(rig, "typical"), rig.length)
    assert not [note for note in trace.pending if note.at < FOREVER], "give it more time"
    return trace


def lost(rig: Rig, gone: Iterable[str]) -> set[tuple[str, int]]:
    """The cells that are not lit, lasting, once these things are dead, by the engine."""
    modes = {name: _deadly(rig, name) for name in gone}
    trace = ended(rig, [Fault(name, mode, 0) for name, mode in modes.items()])
    return {key for key, line in cell_lines(rig, trace).items() if line[-1][1] != 6}


def _deadly(rig: Rig, name: str) -> str:
    return next(m for m in ("dead", "cut", "tripped") if m in rig.things[name].modes)


def comparable(rig: Rig) -> dict[tuple[str, int], Cell]:
    """The cells of which theory can speak.

    Every processor that can come to feed a cell must show the picture meant there; else a change
    of processor is itself a loss, whatever the graph says. And no layer of it may prefer a source
    that shows another picture to one that shows the right one.
    """
    quiet = ended(rig, [])
    found = {}
    for name, of in rig.groups.items():
        wanted = of.arrangements[0]
        for number, cell in enumerate(of.cells):
            stack = of.stacks[cell.stack]
            each = Cell(rig, name, number)
            shown = [cell_quality(stack, 6, quiet.pictures[c][0][1], wanted) for c in each.carriers]
            if set(shown) == {6} and not each.muddled:
                found[name, number] = each
    return found if lit_everywhere(rig, quiet) else {}


def differences(rig: Rig, count: Counter[str]) -> Iterator[str]:
    """Where engine and theory differ; `count` counts what was compared."""
    cells = comparable(rig)
    count["rigs"] += bool(cells)
    count["cells"] += len(cells)
    down = {thing: down_of(rig, [thing]) for thing in rig.things if cells}
    found = {thing: lost(rig, [thing]) for thing in down}
    for key, cell in cells.items():
        by_dominators = {} if cell.crossing else cell.lost_by_dominators()
        count["cells by dominators"] += bool(by_dominators)
        for thing, cut in found.items():
            seen = key in cut
            count["single points"] += seen
            for way, theory in (
                ("removal", cell.lost_by_removal(down[thing])),
                ("dominators", by_dominators.get(thing)),
            ):
                if theory is None:
                    count[f"{way}: not said"] += 1
                elif theory != seen:
                    yield f"cell {key}, {thing} dead: lost {seen}, by {way} {theory}"
                else:
                    count[way] += 1


def down_of(rig: Rig, gone: Iterable[str]) -> set[str]:
    """What is down for good: a circuit that holds up for ever does not trip."""
    held = {t.name for t in rig.things.values() if t.family == "circuit" and _for_ever(rig, t)}
    return down_with(rig, set(gone) - held)


def _for_ever(rig: Rig, thing: Any) -> bool:
    return bool(thing.hold_up) and rig.timings[thing.hold_up].typical >= FOREVER


# ---- topologies

OPTIONS: dict[str, dict[str, Any]] = {
    "plain": {},
    "single power": {"power": "single"},
    "shared routes": {"routes": "shared"},
    "one reference": {"references": "one"},
    "no fallback": {"fallback": "none"},
    "two cards": {"cards": 2},
    "seamless": {"seamless": True},
    "gated": {"returns": "gated"},
}


def topology_rig(topology: str, options: dict[str, Any]) -> Rig:
    size = {} if topology in MIRRORED else {"rows": 2, "columns": 3}
    return rig_of(replace(plan_for(topology, options=options, **size), length=60 * FLICKS))


COMBINATIONS = [
    pytest.param(topology, options, id=f"{topology}, {name}")
    for topology in (*ONE_WALL, *MIRRORED)
    for name, options in OPTIONS.items()
    if not cannot(plan_for(topology, options=options), "banks" if topology in MIRRORED else "main")
]


@pytest.mark.parametrize(("topology", "options"), COMBINATIONS)
def test_single_points_of_every_topology_are_dominators_against_theory(
    topology: str, options: dict[str, Any]
) -> None:
    rig = topology_rig(topology, options)
    count: Counter[str] = Counter()
    assert not list(differences(rig, count))
    cells = sum(len(of.cells) for of in rig.groups.values())
    assert count["cells"] == count["cells by dominators"] == cells
    assert count["removal: not said"] == 0 and count["single points"] >= cells


@pytest.mark.parametrize(("topology", "options"), COMBINATIONS)
def test_routes_and_circuits_of_every_topology_equal_removal_and_reachability(
    topology: str, options: dict[str, Any]
) -> None:
    rig = topology_rig(topology, options)
    cells = comparable(rig)
    routes = {route for thing in rig.things.values() for route in thing.routes}
    assert routes
    for route in routes:
        on_it = [t.name for t in rig.things.values() if route in t.routes]
        found = lost(rig, on_it)
        assert {k for k, c in cells.items() if c.lost_by_removal(down_of(rig, on_it))} == found
    circuits = [t.name for t in rig.things.values() if t.family == "circuit"]
    for each in (*([c] for c in circuits), circuits):
        found = lost(rig, each)
        assert {k for k, c in cells.items() if c.lost_by_removal(down_of(rig, each))} == found


def test_banks_of_a_relay_cross_and_are_compared_by_removal_alone() -> None:
    """Nine chains and their returns on one relay: bank 1 feeds heads 1 to 8, bank 2 the rest."""
    rig = rig_of(replace(show(group(wall(1, 9), topology="return-loop")), length=60 * FLICKS))
    cells = comparable(rig)
    crossed = {key for key, cell in cells.items() if cell.crossing}
    assert crossed and all(cells[key].crossing == {"main/relay-main"} for key in crossed)
    count: Counter[str] = Counter()
    assert not list(differences(rig, count))
    assert count["cells"] - count["cells by dominators"] == len(crossed)


# ---- random rigs


def automatic(rig: Rig) -> Rig:
    """The same rig, long enough to settle, all its selectors automatic."""
    nodes = {name: _automatic(node) for name, node in rig.nodes.items()}
    return replace(rig, nodes=nodes, length=SETTLED)


def _automatic(node: Node) -> Node:
    chooser = getattr(node, "selector", None)
    instead = {"by-hand": "non-revertive", "locked": "revertive"}
    if chooser is None or chooser.restore not in instead:
        return node
    free = replace(chooser, restore=instead[chooser.restore], locked_on=0)
    return replace(node, selector=free)  # type: ignore[call-arg]


def test_single_points_of_random_rigs_are_dominators_against_theory(
    capsys: pytest.CaptureFixture[str],
) -> None:
    count: Counter[str] = Counter()
    for seed in SEEDS:
        found = list(differences(automatic(seeded(seed)[0]), count))
        assert not found, f"seed {seed}: {found[:3]}"
    with capsys.disabled():
        print(f"\nsingle points on {len(SEEDS)} random rigs: {dict(count)}")
    assert count["rigs"] >= 330 and count["cells"] >= 1800 and count["removal"] >= 48_000
    assert count["cells by dominators"] >= 1000 and count["dominators"] >= 20_000
    assert count["removal: not said"] <= count["removal"] // 1000


def test_routes_and_circuits_of_random_rigs_equal_removal_and_reachability() -> None:
    compared_cells = single = 0
    for seed in SEEDS:
        rig = automatic(seeded(seed)[0])
        cells = comparable(rig)
        rng = Random(seed)
        links = [t.name for t in rig.things.values() if t.family in LINKS]
        circuits = [t.name for t in rig.things.values() if t.family == "circuit"]
        route = rng.sample(links, min(len(links), rng.randint(2, 4)))
        for each in (route, *([c] for c in circuits), circuits):
            found = lost(rig, each)
            for key, cell in cells.items():
                theory = cell.lost_by_removal(down_of(rig, each))
                if theory is not None:
                    assert theory == (key in found), (seed, each, key)
                    compared_cells += 1
                    single += theory
    assert compared_cells >= 4000 and single >= 500


# ---- the comparison sees what it should see

BROKEN = [
    ("ways_in", lambda node: node.inputs[:1]),
    ("ways_in", lambda node: node.inputs),
    ("_held_up", lambda rig, key: True),
    ("muddled", lambda node: False),
]


@pytest.mark.parametrize(("name", "instead"), BROKEN, ids=range(len(BROKEN)))
def test_a_theory_that_is_wrong_differs_from_the_engine(
    name: str, instead: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dominators, name, instead)
    rigs = (automatic(seeded(seed)[0]) for seed in SEEDS)
    assert any(line for rig in rigs for line in differences(rig, Counter()))
