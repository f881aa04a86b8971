"""Random times: one value by the inverse of its distribution, its mean, its percentiles.

In: a `Law` (flicks) and a uniform number from 0 to below 1. Out: whole flicks, means as floats.
A law that cannot be, or a number out of range, is a ValueError.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, inf, log, log1p, sqrt
from statistics import NormalDist

from sim.errors import nearest_name
from sim.rig.terms import LAWS, Law
from sim.timebase import FLICKS, FOREVER, to_flicks

_NORMAL = NormalDist()
_P95 = _NORMAL.inv_cdf(0.95)
"""A factor of a lognormal law is its 95th percentile over its median."""


def draw(law: Law, u: float) -> int:
    """The time (flicks, nearest) that is not exceeded with chance `u`: uniform in, the law out."""
    if not 0 <= u < 1:
        raise ValueError(f"uniform number {u!r}: from 0 to below 1")
    _check(law)
    return law.a if law.kind == "fixed" else _whole(_INVERSES[law.kind](law, u))


def percentile(law: Law, p: float) -> int:
    """The time (flicks, nearest) that is not exceeded with chance `p`, from 0 to below 1."""
    return draw(law, p)


def mean(law: Law) -> float:
    """The mean (flicks)."""
    _check(law)
    return _MEANS[law.kind](law)


def _whole(flicks: float) -> int:
    return to_flicks(flicks / FLICKS) if flicks < FOREVER else FOREVER


def _check(law: Law) -> None:
    if law.kind not in LAWS:
        near = nearest_name(law.kind, LAWS)
        raise ValueError(f"unknown law {law.kind!r}: one of {', '.join(LAWS)} (nearest: {near})")
    between = {"uniform": law.a <= law.b, "triangular": law.a <= law.c <= law.b}
    if law.a < 0 or not between.get(law.kind, True) or not 1 <= law.factor < inf:
        raise ValueError(
            f"{law}: no times below 0, least <= mostly <= most, factor 1 or more, finite"
        )


# ---- inverses ------------------------------------------------------------------------------------


def _exponential(law: Law, u: float) -> float:
    return -law.a * log1p(-u)


def _lognormal(law: Law, u: float) -> float:
    return law.a * exp(min(_sigma(law) * _NORMAL.inv_cdf(u), 700.0)) if u else 0.0


def _sigma(law: Law) -> float:
    return log(law.factor) / _P95


def _uniform(law: Law, u: float) -> float:
    return law.a + u * (law.b - law.a)


def _triangular(law: Law, u: float) -> float:
    """Square roots of the area from the near end, on either side of the peak."""
    whole, rise = law.b - law.a, law.c - law.a
    if u * whole <= rise:
        return law.a + sqrt(u * whole * rise)
    return law.b - sqrt((1 - u) * whole * (whole - rise))


_INVERSES: dict[str, Callable[[Law, float], float]] = {
    "exponential": _exponential,
    "lognormal": _lognormal,
    "uniform": _uniform,
    "triangular": _triangular,
}
_MEANS: dict[str, Callable[[Law], float]] = {
    "fixed": lambda law: float(law.a),
    "exponential": lambda law: float(law.a),
    "lognormal": lambda law: law.a * exp(_sigma(law) ** 2 / 2),
    "uniform": lambda law: (law.a + law.b) / 2,
    "triangular": lambda law: (law.a + law.b + law.c) / 3,
}
