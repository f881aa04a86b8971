"""The scenario file that a new user starts from: about fifteen lines, the rest is comment.

In: rows and columns of cabinets, and what is known of the rest (as people write it). Out: a text
that loads as it stands, in which everything that must be known is there to be corrected.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sim.rig.equipment import SCALING_UNIT


@dataclass(frozen=True, slots=True)
class Start:
    """What a starter file is filled with, as written in a scenario."""

    rows: int
    columns: int
    pixels: str = "240 x 240 px"
    rate: str = "50"
    length: str = "2 h"
    distance: str = "100 m"
    title: str = "My show"


MARK = "# CHANGE THIS"
"""What stands on every line with a figure that nobody gave."""
WAY = f"{MARK}: how long it is"


PORTS = int(SCALING_UNIT.limits["ports"].least)
SHARED = f"{{way: serpentine by column, number: {PORTS}}}"
"""How more columns than ports are taken: neighbouring ones share a chain."""

TEMPLATE = """\
# A scenario for staylit. Every figure needs its unit; what is not said is taken the
# unfavourable way, and `staylit check` lists it. Lines marked CHANGE THIS hold figures that
# nobody gave: no result means anything before they are yours.
show: {{title: {title}, rate: {rate}, length: {length}}}{show_mark}
walls:
  main:                         # columns x rows, seen from the front
    grid: {columns} x {rows}
    pixels: {pixels}        {pixels_mark}of one cabinet, width x height
    chains: {chains}           # or: by row, serpentine by row, or lists of cabinets
    circuits: [A, B]            # dealt out to the power chains in turn
circuits: [A, B]
routes:                         # cables on one route are cut together
  main way: {distance}{way_mark}
  other way: {distance}{other_mark}
  left edge: 20 m               {edge_mark}
  right edge: 20 m              {edge_mark}
groups:
  main:                         # walls that are fed and backed up together
    cables: {{trunk_main: main way, trunk_backup: other way, heads: left edge, tails: right edge}}
    power: {{unit-a: A, relay-main: A, relay-backup: B}}
    offered: relay-pair
    against: [single-feed, return-loop, two-unit, crossed-relays]
limits:                         # `staylit compare` ends with status 1 if one is not met
                                # CHANGE THIS: what you can live with
  - {{any: single fault, state: dark, over: 10 %, of: wall, for: 30 frames}}
# More that can be said: sources, layers, references, equipment (timings, ports, prices),
# regions, audience, places, controls. The scenarios that come with the program show all of it.
"""


def new_file(rows: int, columns: int, **known: str) -> str:
    """The text of a starter file. `known`: pixels, rate, length, distance, title, as written."""
    start = Start(rows, columns, **known)
    values = {name: getattr(start, name) for name in Start.__slots__}
    values |= _marks(known)
    values["title"] = _quoted(start.title)
    values["chains"] = "by column" if columns <= PORTS else SHARED
    return TEMPLATE.format(**values)


def _marks(known: Mapping[str, str]) -> dict[str, str]:
    """For each line with figures a mark, where one of them was not given."""
    silent = [name for name in ("rate", "length") if not known.get(name)]
    return {
        "show_mark": f"  {MARK}: {' and '.join(silent)}" if silent else "",
        "pixels_mark": "# " if known.get("pixels") else f"{MARK}: ",
        "way_mark": "" if known.get("distance") else f"               {WAY}",
        "other_mark": "" if known.get("distance") else f"              {WAY}",
        "edge_mark": f"{MARK}: from the relays to the first and last cabinets",
    }


def _quoted(text: str) -> str:
    """A text in double quotes, so that no character in it means anything to YAML."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
