"""Quantiles of the distributions that intervals are made of, from scipy's special functions.

In: a probability and the parameters. Out: floats, in the unit of the distribution. Nothing is
loaded until one is asked for.
"""

from __future__ import annotations

from typing import Any


def normal_quantile(p: float) -> float:
    """The standard normal quantile."""
    from scipy.special import ndtri

    return float(ndtri(p))


def normal_quantiles(p: Any) -> Any:
    """The standard normal quantile of each of an array."""
    from scipy.special import ndtri

    return ndtri(p)


def student_quantile(p: float, freedom: float) -> float:
    """Student's quantile, for degrees of freedom that need not be whole."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, p))


def chi_square_quantile(p: float, freedom: float) -> float:
    """The chi-square quantile: twice that of the gamma distribution of half the freedom."""
    return 2 * gamma_quantile(p, freedom / 2)


def gamma_quantile(p: float, shape: float) -> float:
    """The quantile of a gamma distribution of scale 1."""
    from scipy.special import gammaincinv

    return float(gammaincinv(shape, p))


def beta_quantile(p: float, a: float, b: float) -> float:
    """The quantile of a beta distribution."""
    from scipy.special import betaincinv

    return float(betaincinv(a, b, p))


def tail(level: float) -> float:
    """The probability beyond each end of a two-sided interval. Raises ValueError."""
    if not 0 < level < 1:
        raise ValueError(f"level {level!r}: between 0 and 1")
    return (1 - level) / 2


def poisson_up_to(events: int, mean: float) -> float:
    """The probability of at most so many events, Poisson of this mean."""
    from scipy.special import pdtr

    return float(pdtr(events, mean))
