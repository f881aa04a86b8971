"""From what a show comes to, to what is asked of a risk: chances, times, frames, money.

In: rows (`stretches.measured`), a `Gauge`, a contract. Out: a table of values, one row for each
show, one column for each `Value`: chances 0 or 1, dark times in wall-seconds (the whole group dark
for one second is one), losses in the contract's currency.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sim.rig.terms import Contract, Terms
from sim.risk.channels import Asked
from sim.risk.dues import Dues, Pair, dues_of
from sim.risk.streams import Floats
from sim.risk.stretches import (
    ANY_DARK,
    DARK_TIME,
    DEFECTIVE,
    FRAMES,
    LONGEST,
    MOVING_DARK,
    WEIGHTED,
    Gauge,
)
from sim.timebase import FLICKS, rate, show_time

SECONDS = "wall-seconds"
CHANCE = "chance"


@dataclass(frozen=True, slots=True)
class Value:
    """A column: `kind` chance, wall-seconds, frames or money; `most` that one show can have. For a
    chance by time: the questions (by number) of which one must last longer than `time` flicks;
    `clause` and `step` if it is a contract's.
    """

    key: str
    name: str
    kind: str
    most: float
    questions: tuple[int, ...] = ()
    time: int = 0
    clause: int = -1
    step: int = -1


FIRST = (
    ("defect", "any defect that the audience sees", CHANCE, DEFECTIVE),
    ("dark", "any dark frame", CHANCE, ANY_DARK),
    ("dark time", "dark time", SECONDS, DARK_TIME),
    ("critical", "dark time, critical moments weighted", SECONDS, WEIGHTED),
    ("moving", "dark time where the picture moves", SECONDS, MOVING_DARK),
    ("frames", "frames with something dark", "frames", FRAMES),
)
LOSS = "loss"
ANY_RATE = rate("50")
"""Its frames are whole milliseconds, so that no time is named in frames."""


def values_of(gauge: Gauge, terms: Terms, walls: str = "a whole wall") -> tuple[Value, ...]:
    """What is asked: the first six, whole walls by time, clauses by step, the loss."""
    found = [Value(key, name, kind, _most(kind, gauge)) for key, name, kind, _ in FIRST]
    for time in terms.longest:
        name = f"{walls} dark for more than {in_words(time)}"
        found.append(Value(wall_key(time), name, CHANCE, 1.0, gauge.asked.walls, time))
    contract = terms.contract
    for number, clause in enumerate(contract.clauses if contract else ()):
        asked = tuple(n for n, q in enumerate(gauge.asked.questions) if q.clause == number)
        for place, step in enumerate(clause.steps if asked else ()):
            key = f"clause {number + 1} step {place + 1}"
            name = f"{clause.name}: more than {in_words(step.time)}"
            found.append(Value(key, name, CHANCE, 1.0, asked, step.time, number, place))
    if contract:
        cap = contract.fee if contract.cap is None else contract.cap
        found.append(Value(LOSS, "expected loss", "money", float(cap)))
    return tuple(found)


def wall_key(time: int) -> str:
    """The key of "a whole wall dark for more than so many flicks": `wall 10 s`."""
    return f"wall {in_words(time)}"


def in_words(time: int) -> str:
    """Flicks as names have them: `10 s`, `20 min`."""
    return show_time(time, ANY_RATE)


def _most(kind: str, gauge: Gauge) -> float:
    if kind == CHANCE:
        return 1.0
    if kind == "frames":
        return gauge.length / gauge.frame
    return gauge.weight(0, gauge.length) / FLICKS


def table(
    rows: Floats, values: tuple[Value, ...], gauge: Gauge, contract: Contract | None
) -> Floats:
    """The values of shows. Shapes: (shows, numbers in a row) to (shows, values)."""
    found = np.zeros((len(rows), len(values)))
    scale = 1.0 / (FLICKS * gauge.asked.areas["group"])
    for column, value in enumerate(values):
        if value.questions:
            longest = rows[:, [LONGEST + n for n in value.questions]].max(axis=1)
            found[:, column] = longest > value.time
        elif column < len(FIRST):
            source = FIRST[column][3]
            found[:, column] = rows[:, source] * (scale if value.kind == SECONDS else 1.0)
    if contract is not None:
        found[:, -1] = _losses(rows, gauge, _dues(contract, pairs_of(gauge.asked)))
    return found


def pairs_of(asked: Asked) -> tuple[Pair, ...]:
    """The clause and target of each question that a contract asks, in order."""
    return tuple((each.clause, each.target) for each in asked.questions if each.clause >= 0)


@lru_cache(maxsize=64)
def _dues(contract: Contract, pairs: tuple[Pair, ...]) -> Dues:
    return dues_of(contract, pairs)


def columns_of(asked: Asked) -> list[int]:
    """Where a row has the longest stretches of `pairs_of`."""
    return [LONGEST + n for n, each in enumerate(asked.questions) if each.clause >= 0]


def _losses(rows: Floats, gauge: Gauge, dues: Dues) -> Floats:
    """What is due for each show, as `dues.loss_of` has it."""
    total, longest = np.zeros(len(rows)), rows[:, columns_of(gauge.asked)]
    whose = np.array([clause for clause, _ in dues.asked])
    for clause, (times, amounts) in enumerate(zip(dues.times, dues.amounts, strict=True)):
        if (whose == clause).any():
            passed = np.searchsorted(times, longest[:, whose == clause].max(axis=1))
            total += np.array([float(amount) for amount in amounts])[passed]
    return np.minimum(total, float(dues.cap))
