"""Strikes told alike from the chains that they touch, against each looked at node by node.

In: every topology with every option, whole scenarios, large walls. Out: equal outcomes, for every
single fault.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sim.engine import branches
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.alike import Alike
from sim.study.contingency import singles
from sim.study.laboratory import Laboratory
from sim.study.latent import latents
from sim.study.outcome import Outcome
from sim.study.strikes import strikes
from sim.study.study import rig_of
from tests.big_walls import Size, big_wall
from tests.labs import MIRRORED, laboratory, plan_for
from tests.test_symmetry import COMBINATIONS, OPTIONS


def differences(made: Laboratory) -> tuple[list[str], int]:
    """Faults that come to something else where nothing is told alike without looking, and how many
    things were not looked at.
    """
    apart = Laboratory(made.rig, made.group.name)
    apart.alike = Alike(apart.wiring, apart.kinds, None, {})
    struck = [s for s in strikes(made.rig) if made.concerns(s)]
    wrong = [s.name for s in struck if plain(made.outcome(s)) != plain(apart.outcome(s))]
    return wrong, len(apart.casts) - len(made.casts)


def plain(outcome: Outcome) -> tuple[object, ...]:
    """An outcome but for the names of what takes part: like ones have them from the first."""
    effects = {
        which: replace(of, pending=tuple("" for _ in of.pending))
        for which, of in outcome.effects.items()
    }
    spans = [(race.restores, race.waits) for race in outcome.races]
    return effects, spans, outcome.slowest


@pytest.mark.parametrize(("topology", "name"), COMBINATIONS)
def test_every_topology(topology: str, name: str) -> None:
    more = {} if topology in MIRRORED else {"rows": 3, "columns": 4}
    assert not differences(laboratory(plan_for(topology, options=OPTIONS[name], **more)))[0]


def of_scenario(path: Path, group: str) -> list[Laboratory]:
    scenario = load(path)
    rigs = [rig_of(scenario, variant)[1] for variant in scenario.variants(group)]
    return [Laboratory(rig, group) for rig in rigs if rig is not None]


@pytest.mark.parametrize(
    ("name", "group"), [("river", "main"), ("river", "banks"), ("first", "panel")]
)
def test_scenarios(name: str, group: str) -> None:
    for made in of_scenario(find(name), group):
        assert not differences(made)[0]


def test_a_large_wall_is_mostly_told_without_looking(tmp_path: Path) -> None:
    path = tmp_path / "wall.yaml"
    path.write_text(big_wall(Size(44, 25)), encoding="utf-8")
    (made, *_) = of_scenario(path, "screen")
    assert len(made.undisturbed.live) > 1
    wrong, told = differences(made)
    assert not wrong
    assert told > 3000


def test_only_a_strike_on_one_thing_has_a_key() -> None:
    """Not one on several, on a selector, or on what the rig does not have."""
    made = laboratory(plan_for("relay-pair", rows=3, columns=4))
    of = made.alike._keys
    assert of is not None
    names = [thing.name for thing in made.wiring.things]
    alone = [name for name in names if of.of((name,)) is not None]
    assert len({of.of((name,)) for name in alone}) > 10 and len(alone) > 30
    assert not [name for name in alone if of.of((name, alone[0])) is not None]
    assert not [name for name in (*made.wiring.selector_node, "nothing") if of.of((name,))]


@pytest.mark.parametrize("name", ["plain", "single power"])
def test_a_thing_has_a_key_only_if_all_that_hangs_on_it_has_one_and_hangs_on_it_alone(
    name: str,
) -> None:
    made = laboratory(plan_for("relay-pair", rows=3, columns=4, options=OPTIONS[name]))
    of, wiring = made.alike._keys, made.wiring
    assert of is not None
    keyed = [number for number, code in enumerate(of.codes) if code >= 0]
    fed = [each for number in keyed for each in wiring.powers[number]]
    assert fed and all(of.codes[each] >= 0 and len(wiring.powered_by[each]) == 1 for each in fed)


def test_a_picture_counts_by_what_it_is_like_and_by_its_quality_not_by_whose_it_is() -> None:
    kinds: Any = SimpleNamespace(signals=[(6, 3), (2, 3), (6, 5)], quiet=[])
    met = [branches.Met(kinds, {3: "alike", 5: "alike"}).signal(node) for node in range(3)]
    assert met[0] == met[2] != met[1]


def test_branches_whose_nodes_feed_one_another_otherwise_have_other_shapes() -> None:
    """Three nodes that all send the same; the last one reads the first or the second."""
    kinds: Any = SimpleNamespace(signals=[(6, 9)] * 4, quiet=[], node_traits=[1] * 4)
    shapes = []
    for last in (1, 2):
        wiring: Any = SimpleNamespace(inputs=[(), (0,), (1,), (last,)], thing_of=[0, 1, 2, 3])
        met = branches.Met(kinds, {9: "picture"})
        shapes.append(branches._signals(wiring, met, [1, 2, 3], {1: 0, 2: 1, 3: 2}))
    assert shapes[0] != shapes[1]


@pytest.mark.parametrize("forgotten", ["shown", "things"])
def test_a_key_that_forgets_something_is_found(
    forgotten: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if forgotten == "shown":
        monkeypatch.setattr(branches, "_cabinets", lambda wiring, nodes, cabinets, shown: 0)
    else:
        of = branches._shapes
        monkeypatch.setattr(branches, "_shapes", lambda *a: _without_slots(of(*a)))
    assert any(differences(made)[0] for made in of_scenario(find("river"), "main"))


def _without_slots(of: branches.Shapes) -> branches.Shapes:
    touched = [[(first, shape, 0, on) for first, shape, _, on in each] for each in of.touched]
    return branches.Shapes(touched, of.above)


# ---- rigs that no scenario has


def hidden(made: Laboratory) -> dict[str, tuple[object, ...]]:
    """Latent faults with the kind of fault that brings them out, and what is then lost."""
    return {
        each.strike.name: (each.second.role, each.second.mode, each.states)
        for each in latents(made, singles(made, strikes(made.rig)))
    }


def looked_at(made: Laboratory) -> Laboratory:
    """The same rig, nothing of it told without looking."""
    apart = Laboratory(made.rig, made.group.name)
    apart.alike = Alike(apart.wiring, apart.kinds, None, {})
    return apart


def one_fed_twice(tmp_path: Path) -> Laboratory:
    """Two chains of like pictures: the first fed by two units, the second by one of them twice."""
    path = tmp_path / "wall.yaml"
    text = big_wall(Size(2, 25)).replace("chain-2: lower-1", "chain-2: upper-1")
    path.write_text(text, encoding="utf-8")
    (made, *_) = of_scenario(path, "screen")
    return made


def test_a_chain_fed_twice_by_one_unit_is_not_like_one_fed_by_two(tmp_path: Path) -> None:
    made = one_fed_twice(tmp_path)
    assert not differences(made)[0]
    assert hidden(made) == hidden(looked_at(made))
    seconds = [hidden(made)[f"screen/{chain}/tail cut"][0] for chain in ("chain-1", "chain-2")]
    assert seconds[0] == "upper" != seconds[1]


def test_who_feeds_which_end_must_be_in_the_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    signal = branches.Met.signal

    def without_place(met: branches.Met, node: int) -> object:
        found = signal(met, node)
        return (found[0], found[2]) if isinstance(found, tuple) else found

    monkeypatch.setattr(branches.Met, "signal", without_place)
    made = one_fed_twice(tmp_path)
    assert hidden(made) != hidden(looked_at(made))


def test_a_thing_that_does_nothing_hangs_on_a_feed_with_others(tmp_path: Path) -> None:
    made = one_fed_twice(tmp_path)
    lamp = replace(made.rig.things["screen/r1c1/supply"], name="screen/lamp")
    rig = replace(made.rig, things={**made.rig.things, lamp.name: lamp})
    assert not differences(Laboratory(rig, "screen"))[0]
