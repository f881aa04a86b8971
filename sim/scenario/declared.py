"""What the fields of a scenario need to know of the whole file before they are read.

In: a tree of texts, right or wrong. Out: a `Reading`: the show's frame rate, its first time code,
the names that each section declares (None where they cannot be made out).
"""

from __future__ import annotations

from typing import Any

from sim.errors import InputError
from sim.rig.equipment import TYPES
from sim.scenario.fields import STAND_IN, Reading
from sim.scenario.stand_ins import PICTURE
from sim.timebase import Rate, rate
from sim.timecode import MIDNIGHT, code_number


def reading_of(tree: Any) -> Reading:
    """What fields need to know of the whole file, as far as it can be made out."""
    names = {section: _keys(tree, section) for section in SECTIONS}
    groups = _part(tree, "groups")
    each = groups.values() if isinstance(groups, dict) else ()
    names["types"] = _joined(frozenset(TYPES), names["equipment"])
    names["areas"] = _joined(frozenset({"wall", "group"}), *(names[part] for part in AREAS))
    names["layers"] = _joined(frozenset(), *(_keys(group, "layers") for group in each))
    names["layers"] = names["layers"] or frozenset({PICTURE})
    known = {section: declared for section, declared in names.items() if declared is not None}
    show = _part(tree, "show")
    return _with_start(Reading(_rate(_part(show, "rate")), MIDNIGHT, known), _part(show, "start"))


def _joined(*names: frozenset[str] | None) -> frozenset[str] | None:
    """All names, or None if some cannot be made out."""
    known = [part for part in names if part is not None]
    return frozenset[str]().union(*known) if len(known) == len(names) else None


AREAS = ("walls", "regions", "audience")
SECTIONS = (
    "places",
    "routes",
    "circuits",
    "equipment",
    "sources",
    "references",
    "walls",
    "groups",
    "regions",
    "audience",
    "controls",
)


def _part(tree: Any, key: str) -> Any:
    return tree.get(key) if isinstance(tree, dict) else None


def _keys(tree: Any, section: str) -> frozenset[str] | None:
    """The names that a section declares, as keys or in a list; None if it is neither."""
    part = _part(tree, section)
    if part is not None and not isinstance(part, dict | list):
        return None
    return frozenset(str(name) for name in part or () if isinstance(name, str))


def _rate(written: Any) -> Rate:
    try:
        return rate(written) if isinstance(written, str) else STAND_IN
    except InputError:
        return STAND_IN


def _with_start(known: Reading, written: Any) -> Reading:
    try:
        code_number(str(written), known.rate)
    except InputError:
        return known
    return Reading(known.rate, str(written), known.names)
