"""Small continuous-time Markov chains: steady state, transient, mean time to failure.

In: a frozen description, states and moves with rates per hour. Out: probabilities by state, hours.
All by sums of positive terms only, so that an unavailability of 1e-12 keeps its digits; with
rates as `Fraction`s the steady state is exact. A description that cannot be is a ValueError.
Sources: IEC 61165 (values from memory); Grassmann, Taksar and Heyman, Operations Research 33 (1985)
(idea from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, log2

Number = float | Fraction
Matrix = list[list[Number]]
Floats = list[list[float]]
TERMS = 30
"""Terms of the series for half an expected move or less: the rest is below 1e-40."""


@dataclass(frozen=True, slots=True)
class Move:
    """From one state to another, so often per hour."""

    start: str
    end: str
    rate: Number


@dataclass(frozen=True, slots=True)
class StateModel:
    """States, moves between them, and the states in which the whole works. The first is the start.

    Moves of rate 0 do not happen; several between the same two states add up.
    """

    states: tuple[str, ...]
    moves: tuple[Move, ...]
    working: frozenset[str]

    def __post_init__(self) -> None:
        named = {move.start for move in self.moves} | {move.end for move in self.moves}
        if not self.states or len(set(self.states)) != len(self.states):
            raise ValueError("states: at least one, each once")
        if not (named | self.working) <= set(self.states):
            raise ValueError(f"unknown states {sorted((named | self.working) - set(self.states))}")
        if any(not move.rate >= 0 or move.rate == float("inf") for move in self.moves):
            raise ValueError("rates: 0 or more, and finite")


def generator(model: StateModel) -> Matrix:
    """The generator matrix per hour: row i, column j the rate from i to j; each row sums to 0."""
    rates = _rates(model)
    for number, row in enumerate(rates):
        row[number] = -sum(row)
    return rates


def _rates(model: StateModel) -> Matrix:
    """The rates between different states; nothing on the diagonal."""
    place = {state: number for number, state in enumerate(model.states)}
    rates: Matrix = [[0 for _ in model.states] for _ in model.states]
    for move in model.moves:
        if move.start != move.end:
            rates[place[move.start]][place[move.end]] += move.rate
    return rates


# ---- steady state --------------------------------------------------------------------------------


def steady(model: StateModel) -> dict[str, Number]:
    """The share of time in each state, in the long run. States that are left for ever have 0.

    Raises ValueError if the start can end in different sets of states for good.
    """
    kept = _recurrent(model)
    shares = _eliminate([[row[j] for j in kept] for row in (_rates(model)[i] for i in kept)])
    found = dict(zip((model.states[i] for i in kept), shares, strict=True))
    return {state: found.get(state, 0) for state in model.states}


def _eliminate(rates: Matrix) -> list[Number]:
    """Steady state of a chain whose states all reach one another, last states taken out first."""
    size = len(rates)
    for last in range(size - 1, 0, -1):
        out = sum(rates[last][:last])
        for i in range(last):
            rates[i][last] = rates[i][last] / out
            for j in range(last):
                if i != j:
                    rates[i][j] += rates[i][last] * rates[last][j]
    shares: list[Number] = [1]
    for last in range(1, size):
        shares.append(sum(shares[i] * rates[i][last] for i in range(last)))
    whole = sum(shares)
    return [one / whole for one in shares]


def _recurrent(model: StateModel) -> list[int]:
    """The numbers of the states that the chain ends among, from its start."""
    rates = _rates(model)
    reach = {i: _reach(rates, i) for i in _reach(rates, 0)}
    ends = [here for i, here in reach.items() if all(i in reach[other] for other in here)]
    if any(end != ends[0] for end in ends):
        raise ValueError("the chain may end in different sets of states: no single steady state")
    return sorted(ends[0])


def _reach(rates: Sequence[Sequence[Number]], start: int) -> set[int]:
    seen, todo = {start}, [start]
    while todo:
        fresh = {j for j, rate in enumerate(rates[todo.pop()]) if rate} - seen
        seen |= fresh
        todo += fresh
    return seen


def availability(model: StateModel) -> Number:
    """The share of time in which the whole works, in the long run."""
    return sum(share for state, share in steady(model).items() if state in model.working)


def unavailability(model: StateModel) -> Number:
    """The rest, summed over the states that do not work, so that a small one keeps its digits."""
    return sum(share for state, share in steady(model).items() if state not in model.working)


def waiting(model: StateModel, worth: Mapping[str, int]) -> Number:
    """The mean of what each state is worth, such as how many units are down, in the long run."""
    return sum(share * worth.get(state, 0) for state, share in steady(model).items())


def how_often(model: StateModel, start: str, end: str) -> Number:
    """Moves per hour between two states, in the long run."""
    shares = steady(model)
    return sum(shares[m.start] * m.rate for m in model.moves if (m.start, m.end) == (start, end))


# ---- time to failure -----------------------------------------------------------------------------


def mean_time_to_failure(model: StateModel) -> Number:
    """Mean hours from the start until a state that does not work.

    By renewal: every failure is led back to the start, and the mean time is one over how often that
    then happens. Raises ValueError if the start does not work or nothing leads to a failure.
    """
    start = model.states[0]
    if start not in model.working:
        raise ValueError(f"the start {start!r} does not work")
    back = tuple(
        move if move.end in model.working else Move(move.start, start, move.rate)
        for move in model.moves
        if move.start in model.working
    )
    shares = steady(StateModel(model.states, back, model.working))
    often = sum(shares[m.start] * m.rate for m in model.moves if _fails(m, model))
    if not often:
        raise ValueError("nothing leads to a failure for good")
    return 1 / often


def _fails(move: Move, model: StateModel) -> bool:
    return move.start in model.working and move.end not in model.working


def without_return(model: StateModel) -> StateModel:
    """The same, but no state that does not work is ever left: for the chance of no failure yet."""
    moves = tuple(move for move in model.moves if move.start in model.working)
    return StateModel(model.states, moves, model.working)


# ---- transient -----------------------------------------------------------------------------------


def after(model: StateModel, hours: float) -> dict[str, float]:
    """The chance of each state so many hours after the start.

    By uniformisation over a short time, doubled as often as needed; no terms cancel.
    """
    if not 0 <= hours < float("inf"):
        raise ValueError(f"{hours!r} h: 0 or more, and finite")
    rates = [[float(rate) for rate in row] for row in _rates(model)]
    fastest = max(sum(row) for row in rates)
    doublings = max(0, ceil(log2(fastest * hours * 2))) if fastest * hours > 0 else 0
    step = _short(rates, fastest, hours / 2**doublings)
    for _ in range(doublings):
        step = _normal(_product(step, step))
    return dict(zip(model.states, step[0], strict=True))


def _short(rates: Floats, fastest: float, hours: float) -> Floats:
    """Chances from state to state over a time in which at most half a move is expected."""
    size = len(rates)
    unit = [[float(i == j) for j in range(size)] for i in range(size)]
    if not fastest * hours:
        return unit
    once = [[rate / fastest for rate in row] for row in rates]
    for i, row in enumerate(rates):
        once[i][i] = (fastest - sum(row)) / fastest
    power, found, chance = unit, [[0.0] * size for _ in unit], 1.0
    for term in range(TERMS):
        found = [[f + chance * p for f, p in zip(*rows, strict=True)]
                 for rows in zip(found, power, strict=True)]  # fmt: skip
        power, chance = _product(power, once), chance * fastest * hours / (term + 1)
    return _normal(found)


def _product(one: Floats, two: Floats) -> Floats:
    columns = list(zip(*two, strict=True))
    return [[sum(a * b for a, b in zip(row, c, strict=True)) for c in columns] for row in one]


def _normal(chances: Floats) -> Floats:
    """Rows that sum to 1, which also takes the exponential factor of the series out."""
    return [[chance / sum(row) for chance in row] for row in chances]


def working_after(model: StateModel, hours: float) -> float:
    """The chance that the whole works so many hours after the start, mended or never failed."""
    return sum(chance for state, chance in after(model, hours).items() if state in model.working)


def down_after(model: StateModel, hours: float) -> float:
    """The rest, summed over the states that do not work."""
    return sum(c for state, c in after(model, hours).items() if state not in model.working)
