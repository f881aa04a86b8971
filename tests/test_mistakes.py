"""Mistakes in a scenario file: each has its one good message, in five parts.

In: one good file and a table of single changes to it. Out: exactly one problem, with the line,
the path, what was found, what is allowed, the nearest name and what to do.
"""

# ruff: noqa: E501 - one mistake, one line
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from sim.bounds import MOST_BYTES, MOST_VALUES
from sim.errors import InputError, Problem
from sim.scenario import loader
from sim.scenario.loader import load, scenario_from

BASE = """\
show:
  title: Test rig
  rate: 50
  length: 2 h
  start: 20:00:00:00
  breaks:
    - {name: pause, from: 30 min, to: 40 min}
places: {desk: always, stage: in breaks}
circuits:
  A: {supplier: venue}
  B: {from: A, hold_up: 5..10 min}
routes:
  north: 300 m
  south: 340 m
  edge: 20 m
equipment:
  scaling unit:
    price: 4000 EUR
    timings: {start: 20..60 s}
  big unit: {like: scaling unit, ports: 24, delay: 1 frame, drift: 5 ppm}
sources:
  camera: {kit: camera, circuits: A, run: edge, second: loop-through, rate: 25}
  player: {kit: media computer, circuits: [A, B], links: 4, split: quadrants}
references:
  house: {circuits: B}
walls:
  left:
    grid: 4 x 3
    pixels: 100 x 100 px
    chains: by column
  right:
    grid: 4 x 3
    pixels: 100 x 100 px
    chains: [[r1c1..r1c4, r2c4..r2c1], [r3c1..r3c4]]
regions:
  corner: {wall: left, cabinets: r1c1..r2c2}
audience: {seats: [left, right]}
groups:
  sides:
    walls: [left, right]
    mirrored: yes
    layers:
      inset: {from: camera, at: "100, 0", size: 200 x 100 px}
      full: {from: player, on_loss: black}
    arrangements: {usual: [inset, full], clean: [full]}
    references: house
    cables: {trunk_main: north, trunk_backup: south, heads: edge}
    power: {unit-a: A, "*relay-main": B}
    kits: {unit: big unit}
    offered: mirrored
    against: [single-feed, mirrored-guarded]
limits:
  - {any: single fault, state: dark, over: 10 %, of: wall, for: 30 frames}
controls: {desk line: {run: edge}}
timings: {sides/unit-a: {switch: 1 s}}
"""


class Row(NamedTuple):
    """A change (old to new), the text that only the named line holds, and the parts of the message.

    `path`, `found` and `nearest` are compared whole, `allowed` and `do` must contain the text.
    """

    old: str
    new: str
    line: str
    path: str
    found: str
    allowed: str
    nearest: str
    do: str


TAIL = "timings: {sides/unit-a: {switch: 1 s}}"
CLAUSE = """contract:
  fee: 9 000 EUR
  clauses:
    - {name: dark, state: dark, over: 10 %, of: wall, """


def more(text: str, line: str, path: str, found: str, allowed: str, nearest: str, do: str) -> Row:
    """The good file with a section more."""
    return Row(TAIL, f"{TAIL}\n{text}", line, path, found, allowed, nearest, do)


# fmt: off
ROWS = [
    Row("title: Test rig", "title:", "title:", "show.title", "nothing after the colon", "a text", "", "write a value"),
    Row("title: Test rig", "title: [a, b]", "title: [a", "show.title", "a list where a text should stand", "a text", "", "write one text"),
    Row("title: Test rig", "title: {a: b}", "title: {a", "show.title", "a mapping where a text should stand", "a text", "", "write one text"),
    Row("  rate: 50\n", "", "show:", "show", "rate is missing", "never assumed", "", "add rate: 59.94"),
    Row("rate: 50", "rate: 51", "rate: 51", "show.rate", "unknown frame rate '51'", "59.94", "50 or 48", "write"),
    Row("rate: 50", "rate: fast", "rate: fast", "show.rate", "'fast' is not a frame rate", "59.94", "", "write"),
    Row("rate: 50", "rate: .nan", "rate: .nan", "show.rate", "'.nan' is not a frame rate", "59.94", "", "write"),
    Row("length: 2 h", "length: 2", "length: 2", "show.length", "'2' has a number without a unit", "min, h", "", "write a unit"),
    Row("length: 2 h", "length: .inf h", "length: .inf", "show.length", "'.inf h' is not a finite number", "a number and a unit", "", "write"),
    Row("length: 2 h", "length: -2 h", "length: -2", "show.length", "'-2 h' is negative", "a number and a unit", "", "write"),
    Row("length: 2 h", "length: 2 minuets", "minuets", "show.length", "'2 minuets' has an unknown unit 'minuets'", "min", "min", "write"),
    Row("length: 2 h", "length: 1 ms", "length: 1 ms", "show.length", "a show shorter than one frame", "at least one frame", "", "write the length"),
    Row("length: 2 h", "length: for ever", "length: for ever", "show.length", "a show of more than 10 000 000 000 frames", "years", "", "check the unit"),
    Row("  length: 2 h", "  lenght: 1 h\n  length: 2 h", "lenght", "show.lenght", "unknown key lenght", "title, rate, length", "length", "rename it to length"),
    Row("start: 20:00:00:00", "start: 20:00:00:61", "start: 20", "show.start", "'20:00:00:61' has 61 frames", "0 to 49", "", "write a time code"),
    Row("start: 20:00:00:00", "start: 20:00", "start: 20", "show.start", "'20:00' is not a time code", "hh:mm:ss:ff", "", "write a time code"),
    Row("from: 30 min, to: 40 min", "from: 40 min, to: 30 min", "pause", "show.breaks[1]", "a period that does not lie in the show", "from before to", "", "correct"),
    Row("from: 30 min, to: 40 min", "from: 30 min, to: 3 h", "pause", "show.breaks[1]", "a period that does not lie in the show", "within the show", "", "correct"),
    Row("from: 30 min, to: 40 min", "from: 30 min", "pause", "show.breaks[1]", "to is missing", "where it ends", "", "add to:"),
    Row("from: 30 min, to: 40 min", "from: 21:40, to: 40 min", "pause", "show.breaks[1].from", "'21:40' is not a time code", "hh:mm:ss:ff", "", "write a time"),
    Row("stage: in breaks", "stage: sometimes", "stage: some", "places.stage", "'sometimes' is none of the words that may stand here", "always, in breaks, after the show", "", "choose one"),
    Row("supplier: venue", "supplier: venu", "supplier: venu", "circuits.A.supplier", "'venu' is none of the words that may stand here", "us, client, venue, broadcaster", "venue", "choose one"),
    Row("from: A, hold_up", "from: C, hold_up", "from: C", "circuits.B.from", "'C' is not declared under circuits", "A, B", "", "declare it under circuits"),
    Row("from: A, hold_up", "from: B, hold_up", "from: B", "circuits.B.from", "B feeds itself, directly or through others", "the mains", "", "take one"),
    Row("hold_up: 5..10 min", "hold_up: 10..5 min", "hold_up: 10", "circuits.B.hold_up", "'10..5 min' is out of order", "least <= typical <= most", "", "write"),
    Row("hold_up: 5..10 min", "hold_up: {range: 5 min, grade: sure}", "grade: sure", "circuits.B.hold_up", "'sure' is none of the words that may stand here", "measured, claim, guess", "measured", "choose one"),
    Row("hold_up: 5..10 min", "hold_up: {range: 5 min, grad: guess}", "grad: guess", "circuits.B.hold_up", "unknown key 'grad' in a timing", "range, grade, source", "grade", "rename it"),
    Row("hold_up: 5..10 min", "hold_up: {grade: guess}", "grade: guess", "circuits.B.hold_up", "range is missing", "a range", "", "add range"),
    Row("north: 300 m", 'north: "0,3 km"', "0,3", "routes.north", "'0,3 km' has a comma in a number", "a decimal point", "", "write a decimal point, not a comma: 0.3 km"),
    Row("state: dark", "state: black", "state: black", "limits[1].state", "'black' is none of the words that may stand here", "dark, corrupt", "dark", "choose one"),
    Row("north: 300 m", "north: 300", "north: 300", "routes.north", "'300' has a number without a unit", "m, km", "", "write a unit"),
    Row("north: 300 m", "north: 300 ft", "north: 300 ft", "routes.north", "'300 ft' has an unknown unit 'ft'", "m, km", "", "as 1.2 km"),
    Row("north: 300 m", "north: {supplier: us}", "north: {supp", "routes.north", "length is missing", "distances are never assumed", "", "add length: 1.2 km"),
    Row("north: 300 m", "north: 30000 km", "north: 30000", "routes.north", "'30000 km' is longer than any rig", "up to 1000 km", "", "check the unit"),
    Row("  edge: 20 m", "  edge: 20 m\n  edge: 30 m", "edge: 30 m", "routes.edge", "edge a second time; first in line 15", "each key once", "", "delete one"),
    Row("price: 4000 EUR", "price: 4000", "price: 4000", "equipment.scaling unit.price", "'4000' has no currency", "ISO 4217", "", "write 4000 and the code"),
    Row("price: 4000 EUR", "price: 4000 EURO", "EURO", "equipment.scaling unit.price", "'4000 EURO' has an unknown currency 'EURO'", "ISO 4217", "EUR", "write 4000 and the code"),
    Row("price: 4000 EUR", "price: much EUR", "much", "equipment.scaling unit.price", "'much EUR' is not an amount of money", "as 1200 EUR", "", "write"),
    Row("ports: 24", "ports: 24, price: 3 USD", "USD", "equipment.big unit.price", "a price in USD beside prices in EUR", "EUR", "", "write it in EUR"),
    Row("timings: {start: 20..60 s}", "start: 21..60 s", "start: 21", "equipment.scaling unit.start", "unknown key start", "like, timings", "timings.start", "write it under timings:"),
    Row("timings: {start: 20..60 s}", "restore: revertive", "restore", "equipment.scaling unit.restore", "unknown key restore", "like, timings", "picks.restore", "write it under picks: or follows:"),
    Row("{start: 20..60 s}", "{strat: 20..60 s}", "strat", "equipment.scaling unit.timings.strat", "'strat' is none of the words that may stand here", "start, detect", "start", "choose one"),
    Row("timings: {start: 20..60 s}", "timings: 20 s", "timings: 20", "equipment.scaling unit.timings", "20 s where a mapping of names should stand", "a mapping", "", "write a mapping"),
    Row("like: scaling unit", "like: scaling", "like: scaling", "equipment.big unit.like", "'scaling' is not an equipment type", "relay unit", "scaling unit", "declare it under equipment"),
    Row("like: scaling unit, ", "", "big unit: {ports", "equipment.big unit", "nothing says what 'big unit' is like", "scaling unit", "scaling unit", "add like:"),
    Row("like: scaling unit", "like: big unit", "like: big", "equipment.big unit.like", "'big unit' is like itself", "scaling unit", "scaling unit", "a generic type"),
    Row("ports: 24", "ports: many", "ports: many", "equipment.big unit.ports", "'many' is not a whole number", "a whole number from 0", "", "write a whole number"),
    Row("ports: 24", "ports: 9999999", "ports: 9999999", "equipment.big unit.ports", "'9999999' is out of range", "to 100000", "", "write a whole number"),
    Row("delay: 1 frame", "delay: 1", "delay: 1", "equipment.big unit.delay", "'1' has a number without a unit", "frames, lines, pixels", "", "write a unit"),
    Row("drift: 5 ppm", "drift: 5", "drift: 5", "equipment.big unit.drift", "'5' has no unit", "ppm", "", "write 5 ppm"),
    Row("drift: 5 ppm", "drift: NaN ppm", "NaN", "equipment.big unit.drift", "'NaN ppm' is not a finite number", "ppm", "", "write a number"),
    Row("kit: camera", "kit: relay unit", "kit: relay", "sources.camera.kit", "'relay unit' is a relay", "a source: camera, media computer", "", "name a type of that kind"),
    Row("kit: camera", "kit: camra", "kit: camra", "sources.camera.kit", "'camra' is not an equipment type", "camera", "camera", "correct the name"),
    Row("run: edge, second", "run: eadge, second", "eadge", "sources.camera.run", "'eadge' is not declared under routes", "edge, north, south", "edge", "correct the name"),
    Row("run: edge}}", "run: []}}", "run: []", "controls.desk line.run", "an empty list", "one or several", "", "name one"),
    Row("run: edge}}", "run: {splices: 2}}}", "splices", "controls.desk line.run", "neither a route nor a length", "a list of routes", "", "name a route"),
    Row("rate: 25}", "rate: 26}", "rate: 26", "sources.camera.rate", "unknown frame rate '26'", "59.94", "25 or 24", "write"),
    Row("links: 4", "links: 3", "links: 3", "sources.player.links", "3 links for quadrants", "4", "", "write links: 4"),
    Row("split: quadrants", "split: quarters", "quarters", "sources.player.split", "'quarters' is none of the words that may stand here", "whole, halves, quadrants, columns", "quadrants", "choose one"),
    Row("split: quadrants", "split: quadrants, second: own", "second: own", "sources.player", "second: own, but own is missing", "camera", "", "add own:"),
    Row("split: quadrants", "split: quadrants, own: camera", "own: camera", "sources.player.own", "own without second: own", "second: own", "", "delete own"),
    Row("split: quadrants", "split: quadrants, second: own, own: player", "own: player", "sources.player.own", "'player' names itself", "camera", "", "name another source"),
    Row("delay: 1 frame,", "delay: 1 frame, loop_through: none,", "second: loop", "sources.camera.second", "loop-through, but the units of group sides have none", "passive or active", "", "loop_through of big unit"),
    Row("    grid: 4 x 3\n    pixels: 100 x 100 px\n    chains: by", "    pixels: 100 x 100 px\n    chains: by", "  left:", "walls.left", "grid is missing", "never assumed", "", "add grid: 16 x 9"),
    Row("    grid: 4 x 3\n    pixels: 100 x 100 px\n    chains: by", "    grid: 4 x 3\n    chains: by", "  left:", "walls.left", "pixels is missing", "never assumed", "", "add pixels:"),
    Row("  left:\n    grid: 4 x 3", "  left:\n    grid: 4", "grid: 4\n", "walls.left.grid", "'4' is not two numbers", "as 16 x 9", "", "write columns x rows"),
    Row("  left:\n    grid: 4 x 3", "  left:\n    grid: 0 x 3", "grid: 0", "walls.left.grid", "'0 x 3' is out of range", "1 to 100000", "", "check the numbers"),
    Row("  left:\n    grid: 4 x 3", "  left:\n    grid: 4000 x 3000", "grid: 4000", "walls.left.grid", "'4000 x 3000' makes more than 100000 cabinets", "up to 100000", "", "check the numbers"),
    Row("pixels: 100 x 100 px\n    chains: by", "pixels: 100 x 100\n    chains: by", "pixels: 100 x 100\n", "walls.left.pixels", "'100 x 100' has no unit", "px", "", "write 100 x 100 px"),
    Row("pixels: 100 x 100 px\n    chains: by", "pixels: 100 x 100 mm\n    chains: by", " mm", "walls.left.pixels", "'100 x 100 mm' has an unknown unit 'mm'", "px", "px", "write 100 x 100 px"),
    Row("chains: by column", "chains: by colum", "by colum", "walls.left.chains", "'by colum' is none of the words that may stand here", "by row", "by column", "choose one"),
    Row("    chains: by column\n", "", "  left:", "walls.left", "chains is missing", "how the data chains run", "", "add chains: by column"),
    Row("[r3c1..r3c4]", "[r3c1..r3c3]", "r3c3", "walls.right.chains", "r3c4: in no chain", "exactly one chain", "", "name each cabinet once"),
    Row("[r3c1..r3c4]", "[r3c1..r3c4, r1c1]", "r3c4, r1c1", "walls.right.chains", "r1c1: in more than one place of the chains", "exactly one chain", "", "name each cabinet once"),
    Row("[r3c1..r3c4]", "[r3c1..r3c5]", "r3c5", "walls.right.chains", "r3c5: not on the wall", "exactly one chain", "", "name each cabinet once"),
    Row("[r3c1..r3c4]", "[r3c1..r3c4, x]", "r3c4, x", "walls.right.chains", "'x' is no cabinet", "a straight run", "", "name each cabinet once"),
    Row("chains: by column", "chains: {way: by column, listed: [[r1c1]]}", "listed", "walls.left.chains", "both a way and a list of chains", "one of the two", "", "write a way"),
    Row("wall: left, cab", "wall: lefd, cab", "lefd", "regions.corner.wall", "'lefd' is not declared under walls", "left, right", "left", "correct the name"),
    Row("r1c1..r2c2", "r1c1..r9c9", "r9c9", "regions.corner", "region 'corner' reaches beyond wall left", "400 x 300 px", "", "correct it"),
    Row("r1c1..r2c2", "first", "cabinets: first", "regions.corner.cabinets", "'first' are no cabinets", "r1c1..r3c4", "", "write two cabinets"),
    Row("cabinets: r1c1..r2c2", 'at: "0, 0"', "corner:", "regions.corner", "a region that is not given in one way", "at and size", "", "write one of the two"),
    Row("audience: {seats", "audience: {corner", "audience:", "audience.corner", "'corner' is already declared under regions", "each name once", "", "rename it"),
    Row("seats: [left, right]", "seats: [left, rihgt]", "rihgt", "audience.seats[2]", "'rihgt' is not declared under walls", "left, right", "right", "correct the name"),
    Row("    walls: [left, right]", "    walls: [left]", "  right:", "walls.right", "wall 'right' belongs to no group", "each wall in one group", "", "add it to the walls of a group"),
    Row("    walls: [left, right]", "    walls: [left, left, right]", "walls: [left", "groups.sides.walls", "'left' a second time", "each name once", "", "delete one"),
    Row("    walls: [left, right]\n", "", "sides:", "groups.sides", "a group without walls", "the names of its walls", "", "add walls:"),
    Row("mirrored: yes", "mirrored: maybe", "maybe", "groups.sides.mirrored", "'maybe' is none of the words that may stand here", "yes, no", "yes", "choose one"),
    Row("mirrored: yes", "mirrored: off", "  right:", "walls.right", "wall 'right' lies over wall 'left' in the picture", "mirrored: yes", "", "write at:"),
    Row("100 x 100 px\n    chains: by", "90 x 100 px\n    chains: by", "mirrored", "groups.sides.mirrored", "mirrored walls of different sizes in pixels", "one size", "", "correct a wall"),
    Row("from: camera, at", "from: cam, at", "from: cam,", "groups.sides.layers.inset.from", "'cam' is not declared under sources", "camera, player", "camera", "correct the name"),
    Row("from: player, on_loss", "from: {source: player, link: 5}, on_loss", "link: 5", "groups.sides.layers.full.from", "link 5 of player", "1 to 4", "", "correct link"),
    Row('at: "100, 0"', 'at: "300, 0"', "300, 0", "groups.sides.layers.inset", "200 x 100 px at 300, 0 reaches beyond the picture", "400 x 300 px", "", "correct at or size"),
    Row('at: "100, 0"', "at: top", "at: top", "groups.sides.layers.inset.at", "'top' is not two numbers", "as 480, 0", "", "write x, y"),
    Row("on_loss: black", "on_loss: blck", "blck", "groups.sides.layers.full.on_loss", "'blck' is none of the words that may stand here", "frozen", "black", "choose one"),
    Row("clean: [full]", "clean: [ful]", "clean", "groups.sides.arrangements.clean[1]", "'ful' is not declared under layers", "full, inset", "full", "correct the name"),
    Row("trunk_main: north, ", "", "cables:", "groups.sides.cables", "trunk_main is missing", "distances are never assumed", "", "add cables:"),
    Row("cables: {trunk_main: north, trunk_backup: south, heads: edge}", "copper: on", "sides:", "groups.sides", "heads is missing", "distances are never assumed", "", "add cables:"),
    Row("trunk_main: north", "trunk_mian: south, trunk_main: north", "trunk_mian", "groups.sides.cables.trunk_mian", "unknown key trunk_mian", "trunk_main", "trunk_main", "rename it to trunk_main"),
    Row('"*relay-main": B', '"*relay-mian": B', "relay-mian", "groups.sides.power.*relay-mian", "'*relay-mian' matches no unit and no relay", "unit-a", "relay-main", "correct the name"),
    Row("unit: big unit", "unit: relay unit", "unit: relay", "groups.sides.kits.unit", "'relay unit' is a relay", "a processor: scaling unit", "line-latency unit", "name a type of that kind"),
    Row("unit: big unit", "unti: big unit", "unti", "groups.sides.kits.unti", "'unti' is none of the words that may stand here", "unit, relay", "unit", "choose one"),
    Row("references: house", "references: hous", "hous\n", "groups.sides.references", "'hous' is not declared under references", "house", "house", "declare it under references"),
    Row("    offered: mirrored\n", "", "sides:", "groups.sides", "offered is missing", "the topology that is offered", "", "add offered: relay-pair"),
    Row("offered: mirrored", "offered: miror", "miror", "groups.sides.offered", "unknown topology 'miror'", "single-feed, return-loop", "mirrored", "choose one"),
    Row("[single-feed, mirrored-guarded]", "[single-feed, single-feed]", "against", "groups.sides.against[2]", "'single-feed' a second time", "a label of its own", "", "add label:"),
    Row("[single-feed, mirrored-guarded]", "[{topology: single-feed, cards: 3}]", "cards: 3", "groups.sides.against[1].cards", "'3' is out of range", "from 1 to 2", "", "write a whole number"),
    Row("[single-feed, mirrored-guarded]", '[{topology: odd, form: {units: [u], heads: {"*": v}}}]', "topology: odd", "groups.sides.against[1].form.heads.*", "'v' is no unit or relay of this form", "u", "", "name one of them"),
    Row("from: player, on_loss", "from: player, size: 1 x 1 px, on_loss", "size: 1", "groups.sides.layers.full", "1 x 1 px in 2 x 2 parts", "a pixel in each", "", "make the layer larger"),
    Row("from: player, on_loss", "from: [], on_loss", "from: []", "groups.sides.layers.full.from", "an empty list", "one or several", "", "name one"),
    Row("unit-a: A", "unit-a: []", "unit-a: []", "groups.sides.power.unit-a", "an empty list", "one or several", "", "name one"),
    Row("chains: by column", "chains: []", "chains: []", "walls.left.chains", "neither a way nor a list", "one of the two", "", "write a way"),
    Row("[single-feed, mirrored-guarded]", "[{topology: odd, form: {units: [u]}}]", "topology: odd", "groups.sides.against[1].form", "heads is missing", "feeds which chains", "", "add heads:"),
    Row("mirrored: yes", "mirrored: yes\n    shared: {unit-a: other/unit-a}", "shared", "groups.sides.shared.unit-a", "'other/unit-a' is no unit or relay of another group", "no other group", "", "as main/unit-a"),
    Row("any: single fault", "any: fault", "any: fault", "limits[1].any", "'fault' is none of the words that may stand here", "double fault", "single fault", "choose one"),
    Row("any: single fault, ", "", "state: dark", "limits[1]", "any is missing", "double fault", "", "add any: single fault"),
    Row("state: dark", "state: off", "state: off", "limits[1].state", "'off' is none of the words that may stand here", "not lit", "", "choose one"),
    Row("over: 10 %", "over: 10", "over: 10,", "limits[1].over", "'10' has no unit", "%", "", "write 10 %"),
    Row("over: 10 %", "over: 120 %", "over: 120", "limits[1].over", "'120 %' is out of range", "0 to 100 %", "", "write 0 to 100 %"),
    Row("of: wall", "of: wal", "of: wal,", "limits[1].of", "'wal' is not a wall, a region or an audience area", "seats, wall", "wall", "declare it under regions or audience"),
    Row("for: 30 frames", "for: 30", "for: 30}", "limits[1].for", "'30' has a number without a unit", "frames", "", "write a unit"),
    Row("timings: {sides/", "timings: {side/", "side/unit", "timings.side/unit-a", "'side/unit-a' is no thing of this rig", "main/relay-main", "sides", "begin with the name of the group"),
    Row("{switch: 1 s}", "{swich: 1 s}", "swich", "timings.sides/unit-a.swich", "'swich' is none of the words that may stand here", "switch", "switch", "choose one"),
    Row("controls: {desk line", "controls: {house", "controls:", "controls.house", "'house' is also declared under references", "each name once", "", "rename one"),
    Row("controls: {desk line", "controls: {desk/line", "controls:", "controls.desk/line", "'desk/line' cannot be a name", "letters, digits", "", "choose another name"),
    Row("controls: {desk line", "contrls: {}\ncontrols: {desk line", "contrls", "contrls", "unknown key contrls", "controls", "controls", "rename it to controls"),
    Row("title: Test rig", "title: !!str Test rig", "title:", "show.title", "a tag (!!str)", "no tags", "", "delete it"),
    Row("title: Test rig", 'title: "Test\\arig"', "title:", "show.title", "a control character (U+0007) in a text", "printable text", "", "delete it"),
    Row("title: Test rig", "title: Test rig\n  <<: {start: 1}", "<<", "show", "a merge key (<<)", "plain keys", "", "write the lines out"),
    Row("title: Test rig", "title: Test rig\n  ? [a]\n  : b", "? [a]", "show", "a key that is no text", "a text", "", "write a plain name"),
    Row("controls:", "---\ncontrols:", "---", "", "a second document", "one scenario in one file", "", "delete the --- line"),
    Row("title: Test rig", "title: *nope", "*nope", "show.title", "*nope, but no &nope stands above it", "what stands above", "", "write &nope"),
    Row("title: Test rig", "title: &a [*a]", "&a", "show.title[1]", "*a stands within &a itself", "complete", "", "write the value out"),
    Row("title: Test rig", "title: 'Test rig", "title:", "", "not YAML: a quote that is never closed", "key: value", "", "mend this line"),
    Row("  title: Test rig", "\ttitle: Test rig", "\ttitle", "", "not YAML: a tab used for indentation", "indented by spaces", "", "mend this line"),
    Row("title: Test rig", "title: Test: rig", "title:", "", "not YAML: a second colon on one line, or a line indented too far", "key: value", "", "put quotes round"),
    Row("title: Test rig", "title: Test\x07rig", "title:", "", "a character that cannot be printed (U+0007)", "printable text", "", "delete it"),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: -2 per h}', '- {family: processor, mode: dead, rate: -2 per h}', 'rates[1].rate', "'-2 per h' is negative", 'per h', '', 'above 0'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: MTBF 0 h}', '- {family: processor, mode: dead, rate: MTBF 0 h}', 'rates[1].rate', "'MTBF 0 h' is not above 0 or not finite", 'MTBF', '', 'how often at most'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2}', '- {family: processor, mode: dead, rate: 2}', 'rates[1].rate', "'2' is no rate", '12000 h MTBF', '', 'per what it counts'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 100 % per show}', '- {family: processor, mode: dead, rate: 100 % per show}', 'rates[1].rate', "'100 % per show' is certain", 'below 100 %', '', '0.5 %'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, error_factor: 0.5}', '- {family: processor, mode: dead, rate: 2 per year, error_factor: 0.5}', 'rates[1].error_factor', "'0.5' is no error factor", '1 to 1000', '', 'write 1'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: procesor, mode: dead, rate: 2 per year}', '- {family: procesor, mode: dead, rate: 2 per year}', 'rates[1].family', "'procesor' is none of the words that may stand here", 'processor', 'processor', 'choose one'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: cut, rate: 2 per year}', '- {family: processor, mode: cut, rate: 2 per year}', 'rates[1].mode', "'cut' is no fault mode of a processor", 'dead', 'corrupt', 'choose another'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {things: sides/unit-c, mode: dead, rate: 2 per year}', '- {things: sides/unit-c, mode: dead, rate: 2 per year}', 'rates[1].things', "'sides/unit-c' matches nothing of this rig", 'sides/unit-a', 'sides/unit-a', 'correct the name'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {type: small unit, mode: dead, rate: 2 per year}', '- {type: small unit, mode: dead, rate: 2 per year}', 'rates[1].type', "'small unit' is not an equipment type", 'big unit', 'scaling unit', 'correct the name'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {mode: dead, rate: 2 per year}', '- {mode: dead, rate: 2 per year}', 'rates[1]', 'a rate must say whose it is', 'things, type, family', '', 'one of the three'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {type: camera, family: source, mode: dead, rate: 2 per year}', '- {type: camera, family: source, mode: dead, rate: 2 per year}', 'rates[1]', 'a rate of more than one', 'things, type, family', '', 'one of the three'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per km and year}', '- {family: processor, mode: dead, rate: 2 per km and year}', 'rates[1].rate', 'a rate for each km of a processor', 'per h', '', 'only cables'),
    more('crew: {technicians: 0}', 'crew: {technicians: 0}', 'crew.technicians', "'0' is out of range", 'a whole number from 1 to 100', '', 'write a whole number'),
    more('crew: 0', 'crew: 0', 'crew', "'0' is out of range", 'a whole number from 1 to 100', '', 'write a whole number'),
    more('crew: {control: desk line}', 'crew: {control: desk line}', 'crew', 'technicians is missing', 'how many can mend at once', '', 'add technicians: 2'),
    more('crew: {technicians: 2, control: desk lin}', 'crew: {technicians: 2, control: desk lin}', 'crew.control', "'desk lin' is not declared under controls", 'desk line', 'desk line', 'correct the name, or'),
    more('crew: {technicians: 2, wrong_unit: 120 %}', 'crew: {technicians: 2, wrong_unit: 120 %}', 'crew.wrong_unit', "'120 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more('crew: {technicians: 2, wrong_unit: 1}', 'crew: {technicians: 2, wrong_unit: 1}', 'crew.wrong_unit', "'1' has no unit", '0 to 100 %', '', 'write 1 %'),
    more('crew: {technicians: 2, spares: {receiving crd: 2}}', 'crew: {technicians: 2, spares: {receiving crd: 2}}', 'crew.spares.receiving crd', "'receiving crd' is neither an equipment type nor a family", 'big unit, cabinet supply', 'receiving card', 'correct the name, or'),
    more('crew: {technicians: 2, spares: {jumper: -1}}', 'crew: {technicians: 2, spares: {jumper: -1}}', 'crew.spares.jumper', "'-1' is not a whole number", 'a whole number from 0 to 100000', '', 'write a whole number'),
    more('crew: {technicians: 2, repairs: [{family: jumper, by: swop, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{family: jumper, by: swop, fix: 3 min}]}', 'crew.repairs[1].by', "'swop' is none of the words that may stand here", 'swap, restart, remote', 'swap', 'choose one'),
    more('crew: {technicians: 2, repairs: [{family: jumper, by: swap}]}', 'crew: {technicians: 2, repairs: [{family: jumper, by: swap}]}', 'crew.repairs[1]', 'fix is missing', 'how long the work itself takes', '', 'add fix: 3..10 min'),
    more('crew: {technicians: 2, repairs: [{by: swap, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{by: swap, fix: 3 min}]}', 'crew.repairs[1]', 'a repair must say whose it is', 'things, type, family', '', 'keep one of the three'),
    more('crew: {technicians: 2, repairs: [{family: jumper, type: jumper, by: swap, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{family: jumper, type: jumper, by: swap, fix: 3 min}]}', 'crew.repairs[1]', 'a repair of more than one', 'things, type, family', '', 'keep one of the three'),
    more('crew: {technicians: 2, repairs: [{family: jumper, modes: [cut], by: swap, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{family: jumper, modes: [cut], by: swap, fix: 3 min}]}', 'crew.repairs[1].modes', "'cut' is no fault mode of a jumper", 'dead, corrupt, flapping', 'corrupt', 'choose another'),
    more('crew: {technicians: 2, repairs: [{things: sides/unit-c, by: swap, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{things: sides/unit-c, by: swap, fix: 3 min}]}', 'crew.repairs[1].things', "'sides/unit-c' matches nothing of this rig", 'A, B, desk line, route north', 'sides/unit-a', 'correct the name, or'),
    more('crew: {technicians: 2, repairs: [{family: processor, by: remote, fix: 3 min}]}', 'crew: {technicians: 2, repairs: [{family: processor, by: remote, fix: 3 min}]}', 'crew.repairs[1].by', 'a remote restart without a control link', 'control: the name of one declared', '', 'add control: to crew,'),
    more('crew: {technicians: 2, travel: -3 min}', 'crew: {technicians: 2, travel: -3 min}', 'crew.travel', "'-3 min' is negative", 'a number and a unit: us, ms', '', 'write a time or'),
    more('crew: {technicians: 2, travel: for ever}', 'crew: {technicians: 2, travel: for ever}', 'crew.travel', "'for ever' never ends", 'a time that ends', '', 'say how long at'),
    more('crew: {technicians: 2, travel: 4..1 min}', 'crew: {technicians: 2, travel: 4..1 min}', 'crew.travel', "'4..1 min' is out of order", 'least <= typical <= most', '', 'write a time or'),
    more('crew: {technicians: 2, travel: {law: lognormal, median: 5 min, factor: 0.5}}', 'crew: {technicians: 2, travel: {law: lognormal, median: 5 min, factor: 0.5}}', 'crew.travel', "'0.5' is no factor of a lognormal time", 'a number from 1 to 1000: 95', '', 'write 1 if it'),
    more('crew: {technicians: 2, travel: {law: lognormal, median: 5 min}}', 'crew: {technicians: 2, travel: {law: lognormal, median: 5 min}}', 'crew.travel', 'factor is missing', 'law, median, factor, source', '', 'add factor: 3'),
    more('crew: {technicians: 2, travel: {law: exponential, mean: 0 min}}', 'crew: {technicians: 2, travel: {law: exponential, mean: 0 min}}', 'crew.travel', "'0 min' is no time at all", 'a time above 0', '', 'write one above 0'),
    more('crew: {technicians: 2, travel: {law: exponental, mean: 5 min}}', 'crew: {technicians: 2, travel: {law: exponental, mean: 5 min}}', 'crew.travel', "'exponental' is no law of a random time", 'fixed, exponential, lognormal', 'exponential', 'choose one'),
    more('crew: {technicians: 2, travel: {law: exponential, median: 5 min}}', 'crew: {technicians: 2, travel: {law: exponential, median: 5 min}}', 'crew.travel', "'median' does not belong to law exponential", 'law, mean, source', 'mean', 'delete or rename it'),
    more('crew: {technicians: 2, travel: {law: uniform, range: 5 min}}', 'crew: {technicians: 2, travel: {law: uniform, range: 5 min}}', 'crew.travel', "law uniform, and '5 min' is fixed", 'fixed', '', 'write law: fixed, or'),
    more('crew: {technicians: 2, travel: {mean: 5 min}}', 'crew: {technicians: 2, travel: {mean: 5 min}}', 'crew.travel', "'mean' does not belong to a time without a law", 'law, range, source', 'range', 'delete or rename it'),
    more('crew: {technicians: 2, travel: [5 min]}', 'crew: {technicians: 2, travel: [5 min]}', 'crew.travel', 'a list where a text should stand', 'a time or a range, as 5 min', '', 'write one text'),
    more('tested: [{things: "*relay-bakcup*", before: 2 h}]', 'tested: [{things: "*relay-bakcup*", before: 2 h}]', 'tested[1].things', "'*relay-bakcup*' matches nothing of this rig", 'A, B, desk line, route north', 'sides/left/relay-backup', 'correct the name, or'),
    more('tested: [{things: sides/unit-a}]', 'tested: [{things: sides/unit-a}]', 'tested[1]', 'before is missing', 'how long before the show, or never', '', 'add before: 2 h'),
    more('tested: [{things: sides/unit-a, before: yesterday}]', 'tested: [{things: sides/unit-a, before: yesterday}]', 'tested[1].before', "'yesterday' is not a quantity", 'a number and a unit: us, ms', '', 'write how long before'),
    more('tested: [{things: sides/unit-a, before: for ever}]', 'tested: [{things: sides/unit-a, before: for ever}]', 'tested[1].before', "'for ever' is no time before the show", 'how long before the show', '', 'write never'),
    more('tested: [{things: sides/unit-a, before: -2 h}]', 'tested: [{things: sides/unit-a, before: -2 h}]', 'tested[1].before', "'-2 h' is negative", 'a number and a unit: us, ms', '', 'write how long before'),
    more('tested: [{things: sides/unit-a, before: 2 h}, {things: sides/unit-a, before: never}]', 'tested: [{things: sides/unit-a, before: 2 h}, {things: sides/unit-a, before: never}]', 'tested[2].things', "'sides/unit-a' a second time: only the first counts", 'each once', '', 'delete one of the two'),
    more('together: [{name: rain, things: C, mode: tripped, rate: 0.5 % per show}]', 'together: [{name: rain, things: C, mode: tripped, rate: 0.5 % per show}]', 'together[1].things', "'C' matches nothing of this rig", 'A, B, desk line, route north', '', 'correct the name, or'),
    more('together: [{name: rain, things: A, rate: 0.5 % per show}]', 'together: [{name: rain, things: A, rate: 0.5 % per show}]', 'together[1]', "'dead' is no fault mode of a circuit", 'tripped', '', 'choose another'),
    more('together: [{name: rain, things: A, mode: tripped}]', 'together: [{name: rain, things: A, mode: tripped}]', 'together[1]', "'rain' does not say how often", 'rate for what strikes named things', '', 'add rate: 0.5 % per show'),
    more('together: [{name: rain, things: A, mode: tripped, rate: -1 % per show}]', 'together: [{name: rain, things: A, mode: tripped, rate: -1 % per show}]', 'together[1].rate', "'-1 % per show' is negative", 'a rate such as 2e-5 per h', '', 'write a number above'),
    more('together: [{name: rain, things: A, mode: tripped, rate: 1 % per show, share: 5 %}]', 'together: [{name: rain, things: A, mode: tripped, rate: 1 % per show, share: 5 %}]', 'together[1].share', 'share beside rate', 'rate for what strikes named things', '', 'delete share'),
    more('together: [{name: rain, things: A, mode: tripped, rate: 1 % per show, for: 0 s}]', 'together: [{name: rain, things: A, mode: tripped, rate: 1 % per show, for: 0 s}]', 'together[1].for', "'0 s' is no time at all", 'a time above 0', '', 'write one above 0'),
    more('together: [{name: heat, type: relay unit, share: 105 %}]', 'together: [{name: heat, type: relay unit, share: 105 %}]', 'together[1].share', "'105 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more('together: [{name: heat, type: relay unit}]', 'together: [{name: heat, type: relay unit}]', 'together[1]', "'heat' does not say how often", 'share for a type or family:', '', 'add share: 5 %'),
    more('together: [{name: heat, type: relay unt, share: 5 %}]', 'together: [{name: heat, type: relay unt, share: 5 %}]', 'together[1].type', "'relay unt' is not an equipment type", 'big unit, cabinet supply', 'relay unit', 'correct the name, or'),
    more('together: [{name: heat, family: relay, mode: moved, share: 5 %}]', 'together: [{name: heat, family: relay, mode: moved, share: 5 %}]', 'together[1].mode', "'moved' is none of the words that may stand here", 'dead, blanked, stuck, corrupt', 'unlocked', 'choose one'),
    more('together: [{name: heat, family: relay, mode: cut, share: 5 %}]', 'together: [{name: heat, family: relay, mode: cut, share: 5 %}]', 'together[1].mode', "'cut' is no fault mode of a relay", 'dead, blanked, stuck, corrupt, restart', 'corrupt', 'choose another'),
    more('together: [{name: heat, mode: dead, share: 5 %}]', 'together: [{name: heat, mode: dead, share: 5 %}]', 'together[1]', 'a shared cause must say whose it is', 'things, type, family', '', 'keep one of the three'),
    more('together: [{type: relay unit, share: 5 %}]', 'together: [{type: relay unit, share: 5 %}]', 'together[1]', 'name is missing', 'what the cause is called', '', 'add name: rain on the banks'),
    more('together: [{name: dip, things: sides/unit-a, mode: restart, rate: 1 per year, for: 5 s}]', 'together: [{name: dip, things: sides/unit-a, mode: restart, rate: 1 per year, for: 5 s}]', 'together[1].for', 'a restart for a time', 'how long a start takes: timings', '', 'delete for, or write'),
    more('together: [{name: dip, things: route north, mode: cut, rate: 1 per km and year}]', 'together: [{name: dip, things: route north, mode: cut, rate: 1 per km and year}]', 'together[1].rate', 'a rate for each km of several things', 'per h, per year, per show', '', 'say how often the'),
    more('together: [{name: dip, things: route north, mode: cut, rate: 1e-4 per mating}]', 'together: [{name: dip, things: route north, mode: cut, rate: 1e-4 per mating}]', 'together[1].rate', 'a rate per mating of a shared cause', 'per h, per year, per show', '', 'say how often the'),
    more('together: [{name: a, family: relay, share: 5 %}, {name: a, family: port, share: 5 %}]', 'together: [{name: a, family: relay, share: 5 %}, {name: a, family: port, share: 5 %}]', 'together[2]', "'a' a second time", 'each name once', '', 'rename one of the two'),
    more('contract: {fee: 9000}', 'contract: {fee: 9000}', 'contract.fee', "'9000' has no currency", 'an amount and its ISO 4217', '', 'write 9000 and the code'),
    more('contract: {fee: -9000 EUR}', 'contract: {fee: -9000 EUR}', 'contract.fee', "'-9000 EUR' is negative", 'an amount and its ISO 4217', '', 'write an amount from 0 up'),
    more('contract: {fee: 9 000 GBP}', 'contract: {fee: 9 000 GBP}', 'contract.fee', 'a price in GBP beside prices in EUR', 'EUR', '', 'write it in EUR:'),
    more('contract: {fee: 0 EUR}', 'contract: {fee: 0 EUR}', 'contract.fee', 'a fee of nothing', 'an amount above 0', '', 'write the fee, or'),
    more('contract: {cap: 9 000 EUR}', 'contract: {cap: 9 000 EUR}', 'contract', 'fee is missing', 'the fee that shares are of;', '', 'add fee: 120 000 EUR'),
    more('contract: {fee: 9 00 EUR}', 'contract: {fee: 9 00 EUR}', 'contract.fee', "'9 00 EUR' is not an amount of money", 'an amount and its ISO 4217', '', 'write an amount and'),
    more('contract: {fee: 9 000 EUR, cover: 5 000 EUR}', 'contract: {fee: 9 000 EUR, cover: 5 000 EUR}', 'contract.cover', 'cover without deductible', 'both, or neither: what the', '', 'add deductible: 0 EUR'),
    more('contract: {fee: 9 000 EUR, deductible: 5 000 EUR}', 'contract: {fee: 9 000 EUR, deductible: 5 000 EUR}', 'contract.deductible', 'deductible without cover', 'both, or neither: what the', '', 'add cover: 50 000 EUR'),
    more('contract: {fee: 9 000 EUR, cap: 5 000 CHF}', 'contract: {fee: 9 000 EUR, cap: 5 000 CHF}', 'contract.cap', 'a price in CHF beside prices in EUR', 'EUR', '', 'write it in EUR:'),
    more(CLAUSE + 'for: 5 s, pays: 115 %}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5 s, pays: 115 %}', 'contract.clauses[1].pays', "'115 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more(CLAUSE + 'for: 5 s, pays: 15}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5 s, pays: 15}', 'contract.clauses[1].pays', "'15' has no unit", '0 to 100 %', '', 'write 15 %'),
    more(CLAUSE + 'for: 5 s, pays: -15 %}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5 s, pays: -15 %}', 'contract.clauses[1].pays', "'-15 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more(CLAUSE + 'for: 5 s, pays: 500 CHF}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5 s, pays: 500 CHF}', 'contract.clauses[1].pays', 'a price in CHF beside prices in EUR', 'EUR', '', 'write it in EUR:'),
    more(CLAUSE + 'for: 5 s}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5 s}', 'contract.clauses[1]', 'a clause that does not say what it pays', 'for (longer than this in one', '', 'add pays: 15 %'),
    more(CLAUSE + 'pays: 5 %}', '- {name: dark, state: dark, over: 10 %, of: wall, pays: 5 %}', 'contract.clauses[1]', 'a clause that does not say what it pays', 'for (longer than this in one', '', 'add for: 5 s'),
    more('contract:\n  fee: 9 000 EUR\n  clauses:\n    - {name: dark, state: dark, over: 10 %, of: wall}', '- {name: dark, state: dark, over: 10 %, of: wall}', 'contract.clauses[1]', 'a clause that does not say what it pays', 'for (longer than this in one', '', 'add for: 5 s and pays: 15 %'),
    more(CLAUSE + 'for: 5, pays: 15 %}', '- {name: dark, state: dark, over: 10 %, of: wall, for: 5, pays: 15 %}', 'contract.clauses[1].for', "'5' has a number without a unit", 'us, ms, s, min, h, days, frames', '', 'write a unit after'),
    more(CLAUSE + 'steps: [{for: 60 s, pays: 15 %}, {for: 5 s, pays: 40 %}]}', '- {name: dark, state: dark, over: 10 %, of: wall, steps: [{for: 60 s, pays: 15 %}, {for: 5 s, pays: 40 %}]}', 'contract.clauses[1].steps[2]', 'a step that pays no later than the one before it', 'longer and dearer from step to step', '', 'put the steps in'),
    more(CLAUSE + 'steps: [{for: 6 s, pays: 15 %}, {for: 50 s, pays: 1 000 EUR}]}', '- {name: dark, state: dark, over: 10 %, of: wall, steps: [{for: 6 s, pays: 15 %}, {for: 50 s, pays: 1 000 EUR}]}', 'contract.clauses[1].steps[2]', 'a step that pays no more than the one before it', 'longer and dearer from step to step', '', 'put the steps in'),
    more(CLAUSE + 'steps: [{for: 5 s, pays: nothing}]}', '- {name: dark, state: dark, over: 10 %, of: wall, steps: [{for: 5 s, pays: nothing}]}', 'contract.clauses[1].steps[1].pays', "'nothing' is not an amount of money", 'an amount and its ISO 4217', '', 'write an amount and'),
    more(CLAUSE + 'steps: [{for: 5 s}]}', '- {name: dark, state: dark, over: 10 %, of: wall, steps: [{for: 5 s}]}', 'contract.clauses[1].steps[1]', 'pays is missing', 'a share of the fee, or an amount', '', 'add pays: 15 %'),
    more('contract:\n  fee: 9 000 EUR\n  clauses:\n    - {name: dark, state: dark, over: 10 %, of: wal, for: 5 s, pays: 15 %}', '- {name: dark, state: dark, over: 10 %, of: wal, for: 5 s, pays: 15 %}', 'contract.clauses[1].of', "'wal' is not a wall, a region or an audience area", 'corner, group, left, right, seats, wall', 'wall', 'correct the name, or'),
    more('contract:\n  fee: 9 000 EUR\n  clauses:\n    - {name: dark, state: dark, over: 110 %, of: wall, for: 5 s, pays: 15 %}', '- {name: dark, state: dark, over: 110 %, of: wall, for: 5 s, pays: 15 %}', 'contract.clauses[1].over', "'110 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more('contract:\n  fee: 9 000 EUR\n  clauses:\n    - {name: dark, state: black, over: 10 %, of: wall, for: 5 s, pays: 15 %}', '- {name: dark, state: black, over: 10 %, of: wall, for: 5 s, pays: 15 %}', 'contract.clauses[1].state', "'black' is none of the words that may stand here", 'dark, corrupt, wrong, frozen', 'dark', 'choose one'),
    more(CLAUSE + 'kind: fine, for: 5 s, pays: 15 %}', '- {name: dark, state: dark, over: 10 %, of: wall, kind: fine, for: 5 s, pays: 15 %}', 'contract.clauses[1].kind', "'fine' is none of the words that may stand here", 'refund, abandon, delay, make-good', '', 'choose one'),
    more(CLAUSE + 'group: side, for: 5 s, pays: 15 %}', '- {name: dark, state: dark, over: 10 %, of: wall, group: side, for: 5 s, pays: 15 %}', 'contract.clauses[1].group', "'side' is not declared under groups", 'sides', 'sides', 'correct the name, or'),
    more('contract:\n  fee: 9 000 EUR\n  clauses:\n    - {name: dark, state: dark, over: 10 %, of: wall, for: 5 s, pays: 5 %}\n    - {name: dark, state: frozen, over: 1 %, of: wall, for: 5 s, pays: 5 %}', '- {name: dark, state: frozen, over: 1 %, of: wall, for: 5 s, pays: 5 %}', 'contract.clauses[2]', "'dark' a second time", 'each name once', '', 'rename one of the two'),
    more('load_in: {patch_error: 100.5 %}', 'load_in: {patch_error: 100.5 %}', 'load_in.patch_error', "'100.5 %' is out of range", '0 to 100 %', '', 'write 0 to 100 %'),
    more('load_in: {patch_eror: 1 %}', 'load_in: {patch_eror: 1 %}', 'load_in.patch_eror', 'unknown key patch_eror', 'patch_error, caught, source', 'patch_error', 'rename it to patch_error,'),
    more('load_in: {caught: 0.95}', 'load_in: {caught: 0.95}', 'load_in.caught', "'0.95' has no unit", '0 to 100 %', '', 'write 0.95 %'),
    more('risk: {edges: [1 %, 10 %, 0.1 %, 0.01 %]}', 'risk: {edges: [1 %, 10 %, 0.1 %, 0.01 %]}', 'risk.edges', 'edges that do not divide a risk matrix', '4 chances below 100 %, each', '', 'write them as [10'),
    more('risk: {edges: [10 %]}', 'risk: {edges: [10 %]}', 'risk.edges', 'edges that do not divide a risk matrix', '4 chances below 100 %, each', '', 'write them as [10'),
    more('risk: {longest: [10]}', 'risk: {longest: [10]}', 'risk.longest[1]', "'10' has a number without a unit", 'us, ms, s, min, h, days, frames', '', 'write a unit after'),
    more('risk: {longest: [10 s, 90 h]}', 'risk: {longest: [10 s, 90 h]}', 'risk.longest[2]', 'a time that no show can tell', 'more than 0, less than the show', '', 'write another'),
    more('risk: {longest: [0 s]}', 'risk: {longest: [0 s]}', 'risk.longest[1]', 'a time that no show can tell', 'more than 0, less than the show', '', 'write another'),
    more('risk: {rates_only: mine}', 'risk: {rates_only: mine}', 'risk.rates_only', "'mine' is none of the words that may stand here", 'stated', '', 'choose one'),
    more('risk: {untested_age: 0 h}', 'risk: {untested_age: 0 h}', 'risk.untested_age', "'0 h' is no time at all", 'a time above 0', '', 'write one above 0'),
    more('risk: {indicative_above: 50}', 'risk: {indicative_above: 50}', 'risk.indicative_above', "'50' has no unit", '0 to 100 %', '', 'write 50 %'),
    Row("  breaks:", "  critical: [{from: 1 min, to: 2 min, weight: 0}]\n  breaks:", "critical:", "show.critical[1].weight", "'0' is out of range", "1 to 1000", "", "write 1 to 1000"),
    Row("  breaks:", "  critical: [{from: 1 min, to: 3 min, weight: 2}, {from: 2 min, to: 4 min, weight: 3}]\n  breaks:", "critical:", "show.critical[2]", "a weighted moment that overlaps another", "one weight at a time", "", "let one end"),
    Row("to: 40 min}", "to: 40 min, weight: 2}", "pause", "show.breaks[1].weight", "unknown key weight", "name, from, to", "", "delete it"),
    Row("from: player, on_loss", "from: player, moving: sometimes, on_loss", "sometimes", "groups.sides.layers.full.moving", "'sometimes' is none of the words that may stand here", "yes, no", "", "choose one"),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, shape: 0}', '- {family: processor, mode: dead, rate: 2 per year, shape: 0}', 'rates[1].shape', "'0' is no such shape", '0.2 to 10', '', 'write 1'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, shape: steep}', '- {family: processor, mode: dead, rate: 2 per year, shape: steep}', 'rates[1].shape', "'steep' is no such shape", '0.2 to 10', '', 'write 1'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, shape: 2, age: -3 h}', '- {family: processor, mode: dead, rate: 2 per year, shape: 2, age: -3 h}', 'rates[1].age', "'-3 h' is negative", 'a number and a unit', '', 'write'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, shape: 2, age: 3000}', '- {family: processor, mode: dead, rate: 2 per year, shape: 2, age: 3000}', 'rates[1].age', "'3000' has a number without a unit", 'h', '', 'write a unit'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, age: 3000 h}', '- {family: processor, mode: dead, rate: 2 per year, age: 3000 h}', 'rates[1].age', 'age without shape', 'beside a shape', '', 'add shape'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 per year, shape: 2, age: for ever}', '- {family: processor, mode: dead, rate: 2 per year, shape: 2, age: for ever}', 'rates[1].age', 'an age without end', '3000 h', '', 'say how old'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 1 h MTBF, shape: 10, age: 3000 h}', '- {family: processor, mode: dead, rate: 1 h MTBF, shape: 10, age: 3000 h}', 'rates[1].shape', 'at that age more than one fails a second', 'fewer', '', 'check the age'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: jumper, mode: dead, rate: 1e-4 per mating, shape: 2}', '- {family: jumper, mode: dead, rate: 1e-4 per mating, shape: 2}', 'rates[1].shape', 'shape beside a chance per mating', 'MTBF', '', 'delete it'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 1 % per show, shape: 2, age: 1 h}', '- {family: processor, mode: dead, rate: 1 % per show, shape: 2, age: 1 h}', 'rates[1].shape', 'shape beside a chance per show', 'MTBF', '', 'delete it'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: source, mode: dead, rate: 1e-4 per mating}', '- {family: source, mode: dead, rate: 1e-4 per mating}', 'rates[1].rate', 'dead of a source per mating', 'per power-up', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: jumper, mode: dead, rate: 1e-4 per power-up}', '- {family: jumper, mode: dead, rate: 1e-4 per power-up}', 'rates[1].rate', 'dead of a jumper per power-up', 'per mating', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: restart, rate: 1 % per load-in}', '- {family: processor, mode: restart, rate: 1 % per load-in}', 'rates[1].rate', 'restart of a processor per load-in', 'per hour, per show', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: processor, mode: dead, rate: 2 % per demand}', '- {family: processor, mode: dead, rate: 2 % per demand}', 'rates[1].rate', 'dead of a processor per demand', 'per load-in', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: relay, mode: changeover, rate: 2 per year}', '- {family: relay, mode: changeover, rate: 2 per year}', 'rates[1].rate', 'changeover of a relay per hour', 'per demand', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: source, mode: changeover, rate: 2 % per demand}', '- {family: source, mode: changeover, rate: 2 % per demand}', 'rates[1].mode', "'changeover' is no fault mode of a source", 'dead', '', 'choose another'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: copper, mode: patch error, rate: 1e-4 per mating}', '- {family: copper, mode: patch error, rate: 1e-4 per mating}', 'rates[1].rate', 'patch error of a copper per mating', 'per load-in', '', 'count it by'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: relay, mode: changeover, rate: 100 % per demand}', '- {family: relay, mode: changeover, rate: 100 % per demand}', 'rates[1].rate', "'100 % per demand' is certain", 'below 100 %', '', '0.5 %'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: relay, mode: dead, rate: 2 % per load in}', '- {family: relay, mode: dead, rate: 2 % per load in}', 'rates[1].rate', "'2 % per load in' is no rate", 'per load-in', '', 'per what it counts'),
    Row('timings: {sides/unit-a: {switch: 1 s}}', 'timings: {sides/unit-a: {switch: 1 s}}\nrates:\n  - {family: relay, mode: dead, rate: 1 per year}\n  - {family: relay, mode: dead, rate: 1e-6 per h}', '- {family: relay, mode: dead, rate: 1e-6 per h}', 'rates[2]', 'a second rate of dead of the same', 'each once', '', 'delete one'),
]
# fmt: on


def problems(text: str) -> tuple[Problem, ...]:
    """What the loader has against a text."""
    with pytest.raises(InputError) as caught:
        scenario_from(text, "rig.yaml")
    return caught.value.problems


def changed(row: Row) -> str:
    """The good file with the one change made."""
    assert BASE.count(row.old) == 1, "the change must be single"
    return BASE.replace(row.old, row.new)


def line_of(text: str, mark: str) -> int:
    """The number of the one line (with its line end) that holds a text, or the first of them."""
    found = [n for n, line in enumerate(text.splitlines(keepends=True), 1) if mark in line]
    assert found, mark
    return found[0]


def test_the_file_without_a_mistake_loads() -> None:
    assert scenario_from(BASE).title == "Test rig"


def test_there_are_at_least_sixty_distinct_mistakes() -> None:
    assert len({(row.path, row.found) for row in ROWS}) >= 60


def has_its_message(row: Row) -> None:
    """The changed file has exactly one problem, with all parts of its message."""
    text = changed(row)
    found = problems(text)
    assert len(found) == 1, "\n".join(map(str, found))
    (problem,) = found
    where = f"rig.yaml:{line_of(text, row.line)}"
    assert problem.where == (f"{where}: {row.path}" if row.path else where)
    assert problem.found == row.found
    assert problem.nearest == row.nearest
    assert row.allowed and row.allowed in problem.allowed
    assert row.do and row.do in problem.todo


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.path or 'file'}: {row.found}"[:70])
def test_a_mistake_has_its_one_message(row: Row) -> None:
    has_its_message(row)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.path or 'file'}: {row.found}"[:70])
def test_a_message_speaks_to_a_person(row: Row) -> None:
    """No word of the libraries underneath, no class name, no address."""
    (problem,) = problems(changed(row))
    said = str(problem).lower()
    foreign = (
        "pydantic",
        "yaml.",
        "traceback",
        "errors.",
        "input_value",
        "dict",
        "tuple",
        "object",
    )
    assert not [word for word in foreign if word in said]


def test_all_mistakes_of_a_file_are_reported_together_in_its_order() -> None:
    text = BASE
    changes = {
        "rate: 25}": "rate: 26}",  # a value that cannot be
        "title: Test rig": "titel: Test rig",  # an unknown key, and with it a missing one
        "  edge: 20 m\n": "  edge: 20 m\n  edge: 20 m\n",  # a duplicate key
        "r1c1..r2c2": "r1c1..r9c9",  # what only the whole file shows
        "for: 30 frames": "for: 30",  # a missing unit
    }
    for old, new in changes.items():
        text = text.replace(old, new)
    found = problems(text)
    assert [problem.where.split(": ")[1] for problem in found] == [
        "show", "show.titel", "routes.edge", "sources.camera.rate", "regions.corner", "limits[1].for",
    ]  # fmt: skip
    lines = [int(problem.where.split(":")[1]) for problem in found]
    assert lines == sorted(lines)


def test_a_wrong_rate_does_not_make_every_frame_wrong() -> None:
    (problem,) = problems(BASE.replace("rate: 50", "rate: 49"))
    assert problem.where == "rig.yaml:3: show.rate"


def test_a_wrong_wall_does_not_make_its_name_unknown() -> None:
    (problem,) = problems(
        BASE.replace("  left:\n    grid: 4 x 3", "  left:\n    grid: four by three")
    )
    assert problem.where.endswith("walls.left.grid")


# Files that are no scenario at all


def written(path: Path, content: bytes) -> Path:
    """A file with this content."""
    path.write_bytes(content)
    return path


WHOLE_FILES: list[tuple[str, bytes, str, str]] = [
    ("empty", b"", "", "the file is empty"),
    ("only a comment", b"# nothing\n\n", "", "the file is empty"),
    ("only a text", b"hello\n", ":1", "hello where a mapping of keys should stand"),
    ("only a list", b"- a\n- b\n", ":1", "a list where a mapping of keys should stand"),
    (
        "other encoding",
        "show: caf\u00e9\n".encode("latin-1"),
        ":1",
        "byte 0xe9, which is not UTF-8",
    ),
    ("utf-16", "show: x\n".encode("utf-16"), ":1", "byte 0xff, which is not UTF-8"),
    ("too large", b"#" * (MOST_BYTES + 1), "", "the file is larger than 2 MiB"),
]


@pytest.mark.parametrize(
    ("name", "content", "line", "found"), WHOLE_FILES, ids=lambda v: str(v)[:20]
)
def test_a_file_that_is_no_scenario(
    tmp_path: Path, name: str, content: bytes, line: str, found: str
) -> None:
    path = written(tmp_path / "rig.yaml", content)
    with pytest.raises(InputError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.where == f"{path}{line}", name
    assert problem.found == found
    assert problem.todo


def test_a_directory_and_a_missing_file(tmp_path: Path) -> None:
    for path, found in ((tmp_path, "a directory"), (tmp_path / "no", "cannot be read")):
        with pytest.raises(InputError, match=found) as caught:
            load(path)
        assert caught.value.problems[0].where == str(path)


def test_an_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path / "rig.yaml", b"show: x\n")
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(InputError, match="cannot be read: Permission denied"):
        load(path)


def nested(depth: int) -> str:
    """Lists within lists."""
    return "show: " + "[" * depth + "]" * depth + "\n"


def bomb(levels: int) -> str:
    """Each level holds the one before nine times."""
    lines = ["show:", "  a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    for n in range(1, levels):
        lines.append(f"  a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]")
    return "\n".join(lines) + "\n"


def many(count: int) -> str:
    """A list of so many texts."""
    return "show:\n" + "- x\n" * count


ABSURD: list[tuple[str, Callable[[], str], str]] = [
    ("deep", lambda: nested(5000), "more than 12 levels"),
    ("bomb", lambda: bomb(9), "more than 50000 values, aliases counted in full"),
    ("many", lambda: many(MOST_VALUES), "more than 50000 values"),
]


@pytest.mark.parametrize(
    ("name", "make", "found"), ABSURD, ids=lambda v: v if isinstance(v, str) else ""
)
def test_what_is_absurdly_deep_or_much_is_refused(
    name: str, make: Callable[[], str], found: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if name == "many":  # the same rule, sooner
        monkeypatch.setattr(loader, "MOST_VALUES", 1000)
        found = "more than 1000 values"
        text = many(1000)
    else:
        text = make()
    (problem,) = problems(text)
    assert problem.found.startswith(found)


def test_an_alias_that_makes_it_deep_is_refused() -> None:
    chain = ["show:", "  a0: &a0 [x]", *(f"  a{n}: &a{n} [*a{n - 1}]" for n in range(1, 20))]
    (problem,) = problems("\n".join(chain) + "\n")
    assert problem.found.endswith("makes more than 12 levels")


def test_too_many_cabinets_on_all_walls_together() -> None:
    text = BASE.replace("grid: 4 x 3", "grid: 300 x 200")
    text = text.replace("chains: [[r1c1..r1c4, r2c4..r2c1], [r3c1..r3c4]]", "chains: by row")
    (problem,) = problems(text)
    assert problem.found == "120000 cabinets on all walls together"
    assert problem.allowed == "up to 100000"
