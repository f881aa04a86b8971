"""What failures seen so far say about a rate or a chance: Gamma-Poisson and Beta-binomial updating.

In: a prior (Jeffreys where there is none), failures and hours, or failures and demands. Out: frozen
posteriors, means and percentiles per hour or per demand. A stated error factor is the ratio of the
95th percentile to the median, and a stated rate is the mean. Method: NASA/SP-2009-569.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, expm1, inf, log, log1p, sqrt

from sim.errors import refuse
from sim.reliability.estimates import Estimate
from sim.reliability.quantiles import beta_quantile, gamma_quantile, normal_quantile, tail

SHAPES = (1e-3, 1e8)
"""Shapes of a gamma fitted to an error factor: from "hardly known" to "known to 1 in 10 000"."""


@dataclass(frozen=True, slots=True)
class GammaRate:
    """What is known of a rate: gamma of this shape, and rate parameter in hours."""

    shape: float
    hours: float

    @property
    def mean(self) -> float:
        """Per hour; infinite before any hours."""
        return self.shape / self.hours if self.hours else inf

    def percentile(self, p: float) -> float:
        """Per hour."""
        return gamma_quantile(p, self.shape) / self.hours if self.hours else inf


@dataclass(frozen=True, slots=True)
class BetaChance:
    """What is known of the chance to fail on demand: beta of `failed` and `worked`."""

    failed: float
    worked: float

    @property
    def mean(self) -> float:
        return self.failed / (self.failed + self.worked)

    def percentile(self, p: float) -> float:
        return beta_quantile(p, self.failed, self.worked)


Known = GammaRate | BetaChance
JEFFREYS_RATE = GammaRate(0.5, 0.0)
"""The prior that takes no side, of a Poisson rate (Jeffreys 1946, value from memory)."""
JEFFREYS_CHANCE = BetaChance(0.5, 0.5)
"""The same for a chance on demand."""


def after_hours(prior: GammaRate, failures: int, hours: float) -> GammaRate:
    """The posterior of a rate after so many failures in so many hours. Raises ValueError."""
    if failures < 0 or not 0 <= hours < inf:
        raise ValueError(f"{failures} failures in {hours!r} h: at least none of each")
    return GammaRate(prior.shape + failures, prior.hours + hours)


def after_demands(prior: BetaChance, failed: int, demands: int) -> BetaChance:
    """The posterior of a chance after `failed` of so many demands. Raises ValueError."""
    if not 0 <= failed <= demands:
        raise ValueError(f"{failed} failed of {demands} demands: from none to all")
    return BetaChance(prior.failed + failed, prior.worked + demands - failed)


def believed(known: Known, level: float = 0.9) -> Estimate:
    """The mean with the interval between the percentiles that leave out as much on each side."""
    out = tail(level)
    method = "gamma posterior" if isinstance(known, GammaRate) else "beta posterior"
    low, high = known.percentile(out), known.percentile(1 - out)
    return Estimate(known.mean, low, high, level, method)


def survival_at_mean(known: GammaRate, hours: float) -> float:
    """The chance of no failure in so many hours, as if the mean rate were the true one."""
    return exp(-known.mean * hours)


def survival(known: GammaRate, hours: float) -> float:
    """The chance of no failure in so many hours, over all rates that are believed.

    Never below `survival_at_mean`.
    """
    return exp(-known.shape * log1p(hours / known.hours)) if known.hours else float(hours == 0)


# ---- from an error factor ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LognormalRate:
    """A rate whose logarithm is normal: the median per hour, and sigma of the logarithm."""

    median: float
    sigma: float

    @property
    def mean(self) -> float:
        return self.median * exp(self.sigma**2 / 2)

    def percentile(self, p: float) -> float:
        return self.median * exp(self.sigma * normal_quantile(p))


def error_factor(known: Known | LognormalRate) -> float:
    """The ratio of the 95th percentile to the median; infinite where that is too small to say."""
    median = known.percentile(0.5)
    return known.percentile(0.95) / median if median else inf


def lognormal_of(mean: float, factor: float, where: str = "error factor") -> LognormalRate:
    """The lognormal of this mean and error factor. Raises InputError."""
    _check_stated(mean, factor, where)
    sigma = log(factor) / normal_quantile(0.95)
    return LognormalRate(mean * exp(-(sigma**2) / 2), sigma)


def gamma_of(mean: float, factor: float, where: str = "error factor") -> GammaRate:
    """The gamma of this mean whose 95th percentile is `factor` times its median.

    Beyond what SHAPES allow (below 1.0002, above any that is of use) the nearest. InputError.
    """
    _check_stated(mean, factor, where)
    low, high = (log(shape) for shape in SHAPES)
    for _ in range(80):
        middle = (low + high) / 2
        wide = error_factor(GammaRate(exp(middle), 1.0)) > factor
        low, high = (middle, high) if wide else (low, middle)
    return GammaRate(exp(high), exp(high) / mean)


def gamma_like(known: LognormalRate) -> GammaRate:
    """The gamma of the same mean and variance. Raises ValueError for one that has no variance."""
    if not known.sigma:
        raise ValueError("a rate without doubt has no gamma of the same variance")
    shape = 1 / expm1(known.sigma**2)
    return GammaRate(shape, shape / known.mean)


def spread_of(known: GammaRate) -> float:
    """Standard deviation over mean."""
    return 1 / sqrt(known.shape)


def _check_stated(mean: float, factor: float, where: str) -> None:
    if not 0 < mean < inf:
        raise refuse(where, f"a rate of {mean:g} per hour", "above 0", todo="write a rate above 0")
    if not 1 <= factor < inf:
        allowed = "1 or more: the 95th percentile over the median"
        raise refuse(where, f"an error factor of {factor:g}", allowed, todo="1 means no doubt")
