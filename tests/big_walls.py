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
    return "\n".join(_lines(size)) + "\n"


def _lines(size: Size) -> Iterator[str]:
    chains = -(-size.cabinets // CHAIN)
    pairs = -(-chains // PORTS)
    circuits = [f"box {n}" for n in range(1, -(-size.cabinets // BOX) + 1)]
    yield "show: {title: A large wall, rate: 50, length: 2 h}"
    yield "circuits:"
    yield "  control A: {supplier: venue, hold_up: 0 s}"
    yield "  control B: {supplier: venue, hold_up: 0 s}"
    yield from (f"  {name}: {{supplier: venue, hold_up: 0 s}}" for name in circuits)
    yield "routes:"
    yield "  rack: {length: 3 m, supplier: us}"
    yield "  upper tray: {length: 60 m, supplier: us}"
    yield "  lower tray: {length: 60 m, supplier: us}"
    yield "equipment:"
    yield f"  scaling unit: {{ports: {PORTS}, inputs: 1, picks: revertive}}"
    yield "sources:"
    yield "  player: {kit: media computer, circuits: control A, run: rack, second: distributor,"
    yield "    distributor_circuits: control A, supplier: us}"
    yield "walls:"
    yield "  screen:"
    yield f"    grid: {size.columns} x {size.rows}"
    yield f"    pixels: {CABINET} x {CABINET} px"
    yield f"    chains: {{way: by column, longest: {CHAIN}}}"
    yield f"    power: {{way: by row, longest: {POWER_CHAIN}}}"
    yield f"    circuits: [{', '.join(circuits)}]"
    yield "groups:"
    yield "  screen:"
    yield "    copper: yes"
    yield "    layers: {picture: {from: player, on_loss: black}}"
    yield "    references: none"
    yield "    cables: {heads: upper tray, tails: lower tray}"
    yield "    power: {upper-*: control A, lower-*: control B}"
    yield '    suppliers: {"*": us}'
    yield "    offered:"
    yield "      topology: pairs of units"
    yield "      form:"
    numbers = range(1, pairs + 1)
    yield f"        units: [{', '.join(f'{side}-{n}' for n in numbers for side in SIDES)}]"
    for end, side in (("heads", "upper"), ("tails", "lower")):
        yield f"        {end}:"
        yield from (f"          chain-{c + 1}: {side}-{c // PORTS + 1}" for c in range(chains))


SIDES = ("upper", "lower")
