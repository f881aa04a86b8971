"""The rig as data: the audit format reads back to the same rig, GraphML to the same graph.

In: random rigs and all topologies. Out: exact equality; networkx reads both formats; names that
would be markup stay names; mistakes in a file are refused by the place they stand at.
"""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any
from xml.etree import ElementTree

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.rig.audit import KINDS, as_graphml, as_json, from_json, xml_text
from sim.rig.patterns import build
from sim.rig.topology import Emit, Layer, Rig, Thing, graph
from tests.plans import banks, main
from tests.rigs import seeded

ONE_WALL = ("single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays")
MIRRORED = ("mirrored", "mirrored-guarded")
OPTIONS = ({}, {"seamless": True}, {"cards": 2}, {"returns": "gated"})


@cache
def built(topology: str, option: int = 0) -> Rig:
    plan = banks if topology in MIRRORED else main
    return build(plan(topology, options=OPTIONS[option]))


def read_back(rig: Rig) -> Rig:
    return from_json(json.loads(json.dumps(as_json(rig))))


def same_graph(one: Any, other: Any) -> bool:
    return set(one.nodes) == set(other.nodes) and set(one.edges) == set(other.edges)


def called(name: str) -> Rig:
    """A rig of one source of that name."""
    node = Emit(name=name, thing=name, delay=Fraction(1, 3))
    return Rig(1, 1, {name: Thing(name, "source", kit=name)}, {name: node}, {}, {}, {})


@given(st.integers(0, 2000))
def test_a_drawn_rig_reads_back_exactly(seed: int) -> None:
    rig, _ = seeded(seed)
    assert read_back(rig) == rig


@pytest.mark.parametrize("option", range(len(OPTIONS)))
@pytest.mark.parametrize("topology", ONE_WALL + MIRRORED)
def test_a_topology_reads_back_exactly_and_in_order(topology: str, option: int) -> None:
    rig = built(topology, option)
    again = read_back(rig)
    assert again == rig
    assert [*again.nodes] == [*rig.nodes] and [*again.things] == [*rig.things]
    assert json.dumps(as_json(again)) == json.dumps(as_json(rig))


def test_every_kind_of_node_is_written_by_some_topology_or_drawn_rig() -> None:
    rigs = [built(t, o) for t in ONE_WALL for o in range(len(OPTIONS))]
    rigs += [seeded(seed)[0] for seed in range(20)]
    assert {node["kind"] for rig in rigs for node in as_json(rig)["nodes"]} == set(KINDS)


@given(st.integers(0, 2000))
def test_networkx_reads_the_audit_format(seed: int) -> None:
    rig, _ = seeded(seed)
    found = nx.node_link_graph(json.loads(json.dumps(as_json(rig))), edges="edges")
    assert same_graph(found, graph(rig))
    assert found.graph["frame"] == rig.frame
    for name, node in rig.nodes.items():
        assert found.nodes[name]["thing"] == node.thing
        assert found.nodes[name]["inputs"] == list(node.inputs)


@pytest.mark.parametrize("topology", ONE_WALL + MIRRORED)
def test_networkx_reads_graphml(topology: str) -> None:
    rig = built(topology)
    found = nx.parse_graphml(as_graphml(rig))
    assert same_graph(found, graph(rig))
    things = json.loads(found.graph["things"])
    assert things == as_json(rig)["graph"]["things"]
    for name, node in rig.nodes.items():
        about = found.nodes[name]
        assert about["thing.family"] == rig.things[node.thing].family
        assert json.loads(about["inputs"]) == list(node.inputs)
        if isinstance(node, Layer):
            assert about["selector.accepts_above"] == node.selector.accepts_above
            assert about["selector.detect"] == node.selector.detect


@pytest.mark.parametrize("name", ["<b>", "a & b", 'it\'s "so"', "]]>", "<!ENTITY x>", "&lt;", "名"])
def test_names_stay_names_in_both_formats(name: str) -> None:
    rig = called(name)
    assert read_back(rig) == rig
    text = as_graphml(rig)
    found = nx.parse_graphml(text)
    assert list(found.nodes) == [name]
    assert found.nodes[name]["thing.kit"] == name
    assert (
        len(list(ElementTree.fromstring(text).iter("{http://graphml.graphdrawing.org/xmlns}node")))
        == 1
    )


@given(st.text(min_size=1))
def test_any_name_makes_graphml_that_reads_back(name: str) -> None:
    found = nx.parse_graphml(as_graphml(called(name)))
    assert list(found.nodes) == [xml_text(name)]


def test_what_xml_cannot_hold_is_written_out() -> None:
    assert xml_text("a\x00b\n\ud800é\u2028") == r"a\x00b\n\ud800é\u2028"


def _set(data: dict[str, Any], path: str, value: Any) -> None:
    *way, last = path.split(".")
    at: Any = data
    for step in way:
        at = at[int(step)] if isinstance(at, list) else at[step]
    if isinstance(at, list):
        at[int(last)] = value
    else:
        at[last] = value


MISTAKES = [
    ("format", "other 1", "format"),
    ("graph", [], "graph"),
    ("graph.flicks_per_second", 1000, "flicks_per_second"),
    ("graph.frame", "1", "graph.frame"),
    ("graph.frame", True, "graph.frame"),
    ("graph.things.0.surprise", 1, "graph.things[0].surprise: unknown"),
    ("graph.things.0.length", 1.5, "graph.things[0].length"),
    ("graph.things.0.length", "1/0", "graph.things[0].length"),
    ("graph.things.1.name", "house-1", "graph.things[1].name"),
    ("graph.groups.0.walls.screen", [1, 2, 3], "graph.groups[0].walls.screen: 3 values"),
    ("graph.timings.card.start", {"least": 1}, "graph.timings.card.start"),
    ("nodes", {}, "nodes"),
    ("nodes.0.kind", "node", "nodes[0].kind"),
    ("nodes.1.id", "cam#out", "nodes[1].id"),
    ("nodes.0.inputs", "cam", "nodes[0].inputs"),
    ("edges", [], "edges"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "where"), MISTAKES, ids=lambda it: str(it)[:30])
def test_a_mistake_is_refused_at_its_place(path: str, value: Any, where: str) -> None:
    data = as_json(built("single-feed"))
    if path.startswith("graph.timings"):
        data["graph"]["timings"]["card.start"] = value
    else:
        _set(data, path, value)
    with pytest.raises(InputError) as caught:
        from_json(data)
    assert where in str(caught.value)
    assert len(caught.value.problems) == 1


def test_an_edge_that_no_node_reads_is_refused() -> None:
    data = as_json(built("single-feed"))
    data["edges"].append({"source": "cam#out", "target": "sync-1#out"})
    with pytest.raises(InputError, match="cam#out"):
        from_json(data)


def test_a_missing_attribute_is_refused() -> None:
    data = as_json(built("single-feed"))
    del data["nodes"][0]["feels"]
    with pytest.raises(InputError, match=r"nodes\[0\].feels: missing"):
        from_json(data)


def test_writing_changes_with_the_rig() -> None:
    rig = built("relay-pair")
    assert as_json(replace(rig, frame=rig.frame + 1)) != as_json(rig)
    assert read_back(replace(rig, frame=rig.frame + 1)).frame == rig.frame + 1
