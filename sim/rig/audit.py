"""The rig as data for other programs: the audit format (node-link JSON) and GraphML.

In: a frozen `Rig`, or the audit format read back. Out: plain JSON values with all that another
program needs to simulate the rig afresh, the same rig again, or GraphML text. Times are flicks,
exact fractions are texts such as `3/2`, margins thousandths of a dB, cells pixels, lengths metres.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import cache
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from sim.errors import refuse
from sim.faults import Quality
from sim.rig.topology import (
    Cabinet,
    Carrier,
    Display,
    Emit,
    Gate,
    Group,
    Layer,
    Merge,
    Node,
    Pass,
    Rig,
    Select,
    Sync,
    Thing,
    reads,
)
from sim.timebase import FLICKS, Timing

FORMAT = "staylit-rig 1"
KINDS: Mapping[str, type[Node]] = {
    kind.__name__.lower(): kind
    for kind in (Emit, Pass, Select, Merge, Gate, Sync, Layer, Carrier, Display)
}
"""The kinds of node, by the word that the format has for them."""
T = TypeVar("T")


def as_json(rig: Rig) -> dict[str, Any]:
    """The rig as plain JSON values: node-link data that `networkx.node_link_graph` reads."""
    return {
        "format": FORMAT,
        "directed": True,
        "multigraph": False,
        "graph": {
            "flicks_per_second": FLICKS,
            "frame": rig.frame,
            "length": rig.length,
            "timings": _plain(rig.timings),
            "things": [_plain(thing) for thing in rig.things.values()],
            "cabinets": [_plain(cabinet) for cabinet in rig.cabinets.values()],
            "groups": [_plain(group) for group in rig.groups.values()],
        },
        "nodes": [_node(node) for node in rig.nodes.values()],
        "edges": [{"source": source, "target": target} for source, target in reads(rig)],
    }


def _node(node: Node) -> dict[str, Any]:
    plain = _plain(node)
    return {"id": plain.pop("name"), "kind": type(node).__name__.lower(), **plain}


def _plain(value: Any) -> Any:
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    return int(value) if isinstance(value, Quality) else value


def from_json(data: Mapping[str, Any]) -> Rig:
    """The rig that `as_json` wrote, exactly; what the rules say of it `validator` checks.

    Raises InputError where a value is missing, unknown, of another kind or at odds with the edges.
    """
    if data.get("format") != FORMAT:
        raise refuse("format", f"{data.get('format')!r}", repr(FORMAT))
    graph = _table(data.get("graph"), "graph")
    if graph.get("flicks_per_second") != FLICKS:
        raise refuse("graph.flicks_per_second", f"{graph.get('flicks_per_second')!r}", str(FLICKS))
    rig = Rig(
        frame=_read(int, graph.get("frame"), "graph.frame"),
        length=_read(int, graph.get("length"), "graph.length"),
        things=_named(Thing, graph.get("things"), "graph.things"),
        nodes=_nodes(data.get("nodes")),
        cabinets=_named(Cabinet, graph.get("cabinets"), "graph.cabinets"),
        groups=_named(Group, graph.get("groups"), "graph.groups"),
        timings={
            key: _read(Timing, timing, f"graph.timings.{key}")
            for key, timing in _table(graph.get("timings"), "graph.timings").items()
        },
    )
    _check_edges(data.get("edges"), rig)
    return rig


def _nodes(plain: Any) -> dict[str, Node]:
    found: dict[str, Node] = {}
    for number, item in enumerate(_list(plain, "nodes")):
        where = f"nodes[{number}]"
        table = dict(_table(item, where))
        kind = table.pop("kind", None)
        if not isinstance(kind, str) or kind not in KINDS:
            raise refuse(f"{where}.kind", f"{kind!r}", ", ".join(KINDS))
        node: Node = _read(KINDS[kind], {"name": table.pop("id", None), **table}, where)
        _once(found, node.name, f"{where}.id")
        found[node.name] = node
    return found


def _named(kind: type[T], plain: Any, where: str) -> dict[str, T]:
    found: dict[str, T] = {}
    for number, item in enumerate(_list(plain, where)):
        made = _read(kind, item, f"{where}[{number}]")
        name: str = getattr(made, "name")  # noqa: B009 - all that are listed have one
        _once(found, name, f"{where}[{number}].name")
        found[name] = made
    return found


def _once(found: Mapping[str, Any], name: str, where: str) -> None:
    if name in found:
        raise refuse(where, f"{name!r} stands twice", todo="give each its own name")


def _check_edges(plain: Any, rig: Rig) -> None:
    """The edges say nothing new: they are the reads of the nodes, for programs that know graphs."""
    given = set()
    for number, item in enumerate(_list(plain, "edges")):
        table = _table(item, f"edges[{number}]")
        given.add((str(table.get("source")), str(table.get("target"))))
    wrong = sorted(given ^ set(reads(rig)))
    if wrong:
        raise refuse("edges", f"{wrong[0]} is only in the edges or only in what the nodes read")


def _table(plain: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(plain, Mapping):
        raise refuse(where, f"{plain!r:.60}", "an object")
    return plain


def _list(plain: Any, where: str) -> list[Any]:
    if not isinstance(plain, list):
        raise refuse(where, f"{plain!r:.60}", "a list")
    return plain


def _read(kind: Any, plain: Any, where: str) -> Any:
    """A plain value as a value of a type: dataclasses, tuples, sets, mappings, fractions."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin is tuple:
        return tuple(_items(inner, _list(plain, where), where))
    if origin is frozenset:
        return frozenset(_read(inner[0], item, where) for item in _list(plain, where))
    if origin is not None:
        table = _table(plain, where)
        return {key: _read(inner[1], item, f"{where}.{key}") for key, item in table.items()}
    if is_dataclass(kind) and isinstance(kind, type):
        return _made(kind, _table(plain, where), where)
    if kind is Fraction:
        return _fraction(plain, where)
    if type(plain) is not kind:
        raise refuse(where, f"{plain!r:.60}", kind.__name__)
    return plain


def _items(inner: tuple[Any, ...], items: list[Any], where: str) -> Iterator[Any]:
    kinds = inner[:1] * len(items) if inner[-1] is Ellipsis else inner
    if len(kinds) != len(items):
        raise refuse(where, f"{len(items)} values", f"{len(kinds)} values")
    for number, (kind, item) in enumerate(zip(kinds, items, strict=True)):
        yield _read(kind, item, f"{where}[{number}]")


def _fraction(plain: Any, where: str) -> Fraction:
    if not isinstance(plain, str) or not re.fullmatch(r"-?\d+(/0*[1-9]\d*)?", plain, re.ASCII):
        raise refuse(where, f"{plain!r:.60}", "an exact number as text, such as 3/2")
    return Fraction(plain)


def _made(kind: Any, plain: Mapping[str, Any], where: str) -> Any:
    hints = _hints(kind)
    wrong = sorted(set(plain) ^ set(hints))
    if wrong:
        what = "unknown" if wrong[0] in plain else "missing"
        raise refuse(f"{where}.{wrong[0]}", what, ", ".join(hints))
    return kind(**{name: _read(hints[name], plain[name], f"{where}.{name}") for name in hints})


@cache
def _hints(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {each.name: hints[each.name] for each in fields(kind)}


def as_graphml(rig: Rig) -> str:
    """The signal graph as GraphML text; attributes are numbers or texts, lists are JSON texts.

    A node carries its own attributes, and with `thing.` before them those of what it fails with;
    the graph carries cabinets, groups, timings and all things as JSON texts. Characters that XML
    cannot hold are written out as `\\x01`.
    """
    import networkx as nx

    data = as_json(rig)
    things = {thing["name"]: thing for thing in data["graph"]["things"]}
    made = nx.DiGraph(**dict(_flat({"format": FORMAT, **data["graph"]}, deep=False)))
    for node in data["nodes"]:
        about = {**node, "thing": {**things[node["thing"]], "name": node["thing"]}}
        made.add_node(xml_text(about.pop("id")), **dict(_flat(about)))
    for edge in data["edges"]:
        made.add_edge(xml_text(edge["source"]), xml_text(edge["target"]))
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + "\n".join(nx.generate_graphml(made)) + "\n"


def _flat(table: Mapping[str, Any], before: str = "", deep: bool = True) -> Iterator[Any]:
    """Pairs of a dotted name and a text, number or truth."""
    for key, value in table.items():
        if deep and isinstance(value, Mapping):
            yield from _flat(value, f"{before}{key}.")
        elif isinstance(value, Mapping | list):
            yield f"{before}{key}", json.dumps(value)
        else:
            yield f"{before}{key}", xml_text(value) if isinstance(value, str) else value


_NOT_XML = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")


def xml_text(text: str) -> str:
    """The text with control characters, and others that XML cannot hold, written out: `\\x01`."""
    return _NOT_XML.sub(lambda found: ascii(found[0])[1:-1], text)
