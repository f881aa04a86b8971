"""Published figures of reliability as rigs whose simulation must give them.

In: networks of textbooks built by hand as rigs (`tests.handmade`): a link that works with chance p
is a thing that is dead before the show with chance 1 - p. Out: the chance that something is dark,
by the program's own sampling, within five standard errors of the printed figure; the same check is
shown to fail on a simulation whose links fail a quarter more often.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from math import hypot, log1p

import pytest

from sim.risk.bench import Alone
from sim.risk.hazards import Hazard
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.piles import alone as by_itself
from sim.risk.shows import union_of
from tests.handmade import HEAD, Link, all_dead, column, dead, field_of, handmade

Network = tuple[list[Link], dict[str, tuple[str, ...]], tuple[str, ...]]
"""Links, cabinets with what their cards choose among, the things that fail."""
SECONDS = 1000


def bridge() -> Network:
    """s to t over a or b, with a link between a and b that carries either way."""
    links = [
        ("sa", "sa", (HEAD,)),
        ("sb", "sb", (HEAD,)),
        ("b to a", "ab", ("sb",)),
        ("a to b", "ab", ("sa",)),
        ("a", "a", ("sa", "b to a")),
        ("b", "b", ("sb", "a to b")),
        ("at", "at", ("a",)),
        ("bt", "bt", ("b",)),
    ]
    return links, {"t": ("at", "bt")}, ("sa", "sb", "ab", "at", "bt")


def ring(size: int) -> Network:
    """The source and size - 1 cabinets in a ring; each is fed from either side."""
    numbers = range(1, size)
    names = [f"link {n}" for n in range(1, size + 1)]
    there = [(f"there {n}", names[n - 1], (f"there {n - 1}" if n > 1 else HEAD,)) for n in numbers]
    back = [
        (f"back {n}", names[n], (f"back {n + 1}" if n < size - 1 else HEAD,))
        for n in reversed(numbers)
    ]
    ends = {f"cabinet {n}": (f"there {n}", f"back {n}") for n in numbers}
    return [*there, *back], ends, tuple(names)


def one_of_ring(size: int, place: int) -> Network:
    """The same, of which one cabinet is looked at."""
    links, ends, names = ring(size)
    return links, {"t": ends[f"cabinet {place}"]}, names


def hazards_of(names: Sequence[str], chance: float) -> list[Hazard]:
    """Each dead before the show with this chance."""
    return [dead(name, -log1p(-chance), early=True) for name in names]


@cache
def simulated(network: Callable[[], Network], chance: float, seed: int = 9) -> Sampling:
    links, ends, names = network()
    return of_hazards(links, ends, hazards_of(names, chance), seed)


def of_hazards(
    links: Sequence[Link], ends: dict[str, tuple[str, ...]], hazards: list[Hazard], seed: int = 9
) -> Sampling:
    field = field_of(handmade(links, ends, SECONDS), hazards)
    return sample(Alone([field], union_of([hazards])), Effort(seed, 6000, 0.01))


def agrees(made: Sampling, dark: float) -> bool:
    """Whether the chance of something dark is within five standard errors; a number of faults
    whose shows were all alike adds what one other show in the next such lot would.
    """
    value = column(made.fields[0], "dark")
    alike = [
        pile.weight / len(pile.shows)
        for pile in made.piles
        if pile.faults > 2 and not pile.tables[0][:, value].std()
    ]
    error = hypot(made.error(0, value), *alike)
    return abs(made.mean(0, value) - dark) <= 5 * error + sum(made.left_out)


CASES: dict[str, tuple[Callable[[], Network], str, str]] = {
    # Source: Barlow and Proschan 1975, IEC 61078 (values from memory); exact.
    "bridge, 0.9": (bridge, "0.9", "0.97848"),
    "bridge, 0.95": (bridge, "0.95", "0.994780625"),
    "bridge, 0.5": (bridge, "0.5", "0.5"),
    # Source: exact, n p^(n-1) - (n-1) p^n.
    "ring of 4": (lambda: ring(4), "0.9", "0.9477"),
    "ring of 6": (lambda: ring(6), "0.9", "0.885735"),
    "ring of 10": (lambda: ring(10), "0.9", "0.7360989291"),
    # Source: exact, adjacent 1 - (1 - p)(1 - p^5), opposite 1 - (1 - p^3)^2.
    "ring of 6, next to it": (lambda: one_of_ring(6, 1), "0.9", "0.959049"),
    "ring of 6, across": (lambda: one_of_ring(6, 3), "0.9", "0.926559"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_network_as_a_rig_against_published(case: str) -> None:
    network, p, works = CASES[case]
    assert agrees(simulated(network, 1 - float(p)), 1 - float(works))


@pytest.mark.parametrize("case", CASES)
def test_a_simulation_with_too_many_failures_misses_the_published_figure(case: str) -> None:
    network, p, works = CASES[case]
    assert not agrees(simulated(network, 1.25 * (1 - float(p))), 1 - float(works))


# ---- common cause --------------------------------------------------------------------------------

WAYS: tuple[list[Link], dict[str, tuple[str, ...]]] = (
    [("left", "left", (HEAD,)), ("right", "right", (HEAD,))],
    {"t": ("left", "right")},
)


def shared(beta: float, q: float) -> Sampling:
    """Two ways, each dead before the show with chance (1 - b) q, both at once with b q."""
    cause = all_dead("both", ("left", "right"), -log1p(-beta * q), early=True)
    return of_hazards(*WAYS, [*hazards_of(("left", "right"), (1 - beta) * q), cause])


# Source: IEC 61508-6 Annex D (value from memory); exact: (1 - b)^2 q^2 + b q.
@pytest.mark.parametrize(("beta", "dark"), [(0.02, 2.09604e-5), (0.1, 1.0081e-4)])
def test_common_cause_as_a_rig_against_published(beta: float, dark: float) -> None:
    """The figure counts both ways dead from the shared cause and on their own as two: the rig does
    not, which is less than one part in a hundred thousand of it.
    """
    made = shared(beta, 1e-3)
    value = column(made.fields[0], "dark")
    assert made.mean(0, value) == pytest.approx(dark, rel=1e-5)
    assert not agrees(shared(beta * 1.01, 1e-3), dark)


# ---- in the show ---------------------------------------------------------------------------------


def test_two_in_parallel_at_one_mean_life_against_published() -> None:
    """Each fails once in the show on average: one of two still works with chance 0.600423599."""
    # Source: MIL-HDBK-338B (formula from memory); exact: 1 - (1 - 1/e)^2.
    works = 0.600423599
    made = of_hazards(*WAYS, [dead("left", 1.0), dead("right", 1.0)])
    assert agrees(made, 1 - works)
    assert not agrees(of_hazards(*WAYS, [dead("left", 1.1), dead("right", 1.1)]), 1 - works)


def test_of_an_open_chain_half_is_dark_against_published() -> None:
    """One break uniform over 20 links: 10.5 cabinets on average; fed from both ends: none."""
    # Source: exact, (n + 1) / 2.
    for network, dark in ((ring(21), 0.0), (open_chain(20), 10.5)):
        links, ends, names = network
        assert mean_dark(links, ends, hazards_of(names, 0.01)) == pytest.approx(dark, rel=1e-12)
    links, ends, names = open_chain(20)
    assert mean_dark(links, ends, hazards_of(names[1:], 0.01)) < 10.1


def open_chain(size: int) -> Network:
    links, _, names = ring(size + 1)
    there = links[:size]
    return there, {f"cabinet {n + 1}": (link[0],) for n, link in enumerate(there)}, names[:-1]


def mean_dark(
    links: Sequence[Link], ends: dict[str, tuple[str, ...]], hazards: list[Hazard]
) -> float:
    """Cabinets dark all through the show, on average over single faults."""
    field = field_of(handmade(links, ends, SECONDS), hazards)
    made = sample(Alone([field], union_of([hazards])), Effort(1, 0))
    dark = by_itself(made, 0)[:, column(field, "dark time")]
    return float(dark.mean()) / SECONDS * len(ends)
