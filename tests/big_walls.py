"""Scenarios of one large wall of any size, for measuring how cost grows with it.

In: columns and rows of cabinets. Out: the text of a scenario: one group with one screen, chains of
25 cabinets, as many pairs of sending units as their ports ask for, one unit of a pair feeding the
heads and the other the tails; power chains of 20 cabinets across the data chains. Everything in
it is invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

CHAIN = 25
"""Cabinets on a chain: 409 600 pixels, under what a port of gigabit copper carries at 50 Hz."""
POWER_CHAIN = 20
PORTS = 40
BOX = 400
"""Cabinets that one circuit feeds."""
CABINET = 128


@dataclass(frozen=True, slots=True)
class Size:
    """Columns and rows of cabinets; `cabinets`: how many that makes."""

    columns: int
    rows: int

    @property
    def cabinets(self) -> int:
        return self.columns * self.rows


SIZES = {
    size.cabinets: size
    for size in (
        Size(10, 25), Size(20, 25), Size(40, 25), Size(60, 50), Size(100, 100), Size(400, 250),
    )
}  # fmt: skip
"""Walls of 250 to 100 000 cabinets; every chain of them is full."""


def big_wall(size: Size) -> str:
    """The text of a scenario with one wall of this size. Rows are a multiple of `CHAIN`."""
    boxes = [f"box {n}" for n in range(1, -(-size.cabinets // BOX) + 1)]
    chains = -(-size.cabinets // CHAIN)
    circuits = "\n".join(f"  {name}: {{supplier: venue, hold_up: 0 s}}" for name in boxes)
    wall = WALL.format(size=size, boxes=", ".join(boxes))
    return "\n".join((HEAD, circuits, GEAR, wall, GROUP, *_form(chains))) + "\n"


HEAD = """\
show: {title: A large wall, rate: 50, length: 2 h}
circuits:
  control A: {supplier: venue, hold_up: 0 s}
  control B: {supplier: venue, hold_up: 0 s}"""
GEAR = f"""\
routes:
  rack: {{length: 3 m, supplier: us}}
  upper tray: {{length: 60 m, supplier: us}}
  lower tray: {{length: 60 m, supplier: us}}
equipment:
  scaling unit: {{ports: {PORTS}, inputs: 1, picks: revertive}}
sources:
  player:
    kit: media computer
    circuits: control A
    run: rack
    second: distributor
    distributor_circuits: control A
    supplier: us"""
WALL = f"""\
walls:
  screen:
    grid: {{size.columns}} x {{size.rows}}
    pixels: {CABINET} x {CABINET} px
    chains: {{{{way: by column, longest: {CHAIN}}}}}
    power: {{{{way: by row, longest: {POWER_CHAIN}}}}}
    circuits: [{{boxes}}]"""
GROUP = """\
groups:
  screen:
    copper: yes
    layers: {picture: {from: player, on_loss: black}}
    references: none
    cables: {heads: upper tray, tails: lower tray}
    power: {upper-*: control A, lower-*: control B}
    suppliers: {"*": us}
    offered:
      topology: pairs of units
      form:"""
SIDES = {"heads": "upper", "tails": "lower"}
"""Which unit of each pair feeds which end of its chains."""


def _form(chains: int) -> Iterator[str]:
    """The units and what they feed, as a topology written out."""
    pairs = range(1, -(-chains // PORTS) + 1)
    units = ", ".join(f"{side}-{n}" for n in pairs for side in SIDES.values())
    yield f"        units: [{units}]"
    for end, side in SIDES.items():
        yield f"        {end}:"
        yield from (f"          chain-{n + 1}: {side}-{n // PORTS + 1}" for n in range(chains))
