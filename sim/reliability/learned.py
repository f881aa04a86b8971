"""From an owner's records to rates: posteriors by family, type and mode, and the file of them.

In: frozen `Record`s, priors by key (Jeffreys where none is given). Out: frozen `Learned`s, each per
hour or per demand, and the text of a file that a scenario may include.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite

from sim.faults import MODES
from sim.reliability.estimates import Estimate
from sim.reliability.posterior import (
    JEFFREYS_CHANCE,
    JEFFREYS_RATE,
    BetaChance,
    GammaRate,
    Known,
    after_demands,
    after_hours,
    believed,
    error_factor,
)
from sim.reliability.recorded import Record

FORMAT = 1
LEVEL = 0.9


@dataclass(frozen=True, slots=True, order=True)
class Key:
    """What a rate is of: kind, the owner's type ("" for none), mode, and per what it counts."""

    family: str
    kit: str
    mode: str
    per: str


@dataclass(frozen=True, slots=True)
class Learned:
    """What the records say of one rate: counts, the posterior, and where it stands on a prior.

    `exposure` is hours or demands; `begins` and `ends` span all periods; `prior` is a text.
    """

    key: Key
    failures: int
    exposure: float
    rows: int
    begins: datetime
    ends: datetime
    prior: str
    known: Known

    def interval(self, level: float = LEVEL) -> Estimate:
        """Posterior mean and percentiles, per hour or per demand."""
        return believed(self.known, level)


Priors = Mapping[Key, tuple[Known, str]]
"""What was known before, with its source."""


def learn(records: Iterable[Record], priors: Priors | None = None) -> tuple[Learned, ...]:
    """One posterior for each key that any row counts for and that was exposed at all, in order."""
    counted: dict[Key, list[Record]] = defaultdict(list)
    for record in records:
        for key in _keys(record):
            counted[key].append(record)
    exposed = {k: rows for k, rows in counted.items() if any(row.exposure for row in rows)}
    return tuple(_learned(key, exposed[key], priors or {}) for key in sorted(exposed))


def _keys(record: Record) -> Iterator[Key]:
    modes = (record.mode,) if record.mode else MODES[record.family]
    return (Key(record.family, record.kit, mode, record.per) for mode in modes)


def _learned(key: Key, rows: list[Record], priors: Priors) -> Learned:
    failures, exposure = sum(row.failures for row in rows), sum(row.exposure for row in rows)
    known, prior = priors.get(key, (JEFFREYS_RATE if key.per == "hour" else JEFFREYS_CHANCE, ""))
    if not _fits(key, known):
        raise ValueError(f"the prior of {key} is of the other kind")
    begins, ends = min(row.begins for row in rows), max(row.ends for row in rows)
    after = _updated(known, failures, exposure)
    return Learned(key, failures, exposure, len(rows), begins, ends, prior or "Jeffreys", after)


def _updated(known: Known, failures: int, exposure: float) -> Known:
    if isinstance(known, GammaRate):
        return after_hours(known, failures, exposure)
    return after_demands(known, failures, int(exposure))


def _fits(key: Key, known: Known) -> bool:
    return isinstance(known, GammaRate) == (key.per == "hour")


# ---- the file ------------------------------------------------------------------------------------


def rates_text(learned: Iterable[Learned], source: str) -> str:
    """The text of a YAML file of these rates. Same records, same bytes; no date but the records'.

    `source` names the records, such as the name of their file.
    """
    head = [
        f"# Rates from the owner's records ({source}), as posterior means.",
        "# low and high: 5th and 95th percentile. error_factor: 95th percentile over median.",
        f"format: {FORMAT}",
    ]
    rows = [line for one in learned for line in _entry(one, source)]
    return "\n".join([*head, *(["rates:", *rows] if rows else ["rates: []"]), ""])


def _entry(one: Learned, source: str) -> Iterator[str]:
    mark = "  - "
    for name, value in _fields(one, source):
        yield f"{mark}{name}: {value}"
        mark = "    "


def _fields(one: Learned, source: str) -> Iterator[tuple[str, str]]:
    found, key = one.interval(), one.key
    yield "family", _quoted(key.family)
    if key.kit:
        yield "type", _quoted(key.kit)
    yield "mode", _quoted(key.mode)
    yield "per", _quoted(key.per)
    yield from (("mean", _number(found.value)), ("low", _number(found.low)))
    yield from (("high", _number(found.high)), ("error_factor", _number(error_factor(one.known))))
    yield from _shape(one.known)
    yield "failures", str(one.failures)
    yield "hours" if key.per == "hour" else "demands", _number(one.exposure)
    yield "prior", _quoted(one.prior)
    yield "source", _quoted(f"{source}, {one.begins.date()} to {one.ends.date()}")


def _shape(known: Known) -> Iterator[tuple[str, str]]:
    """The posterior's own two figures, with all their digits."""
    if isinstance(known, BetaChance):
        yield from (("beta_failed", repr(known.failed)), ("beta_worked", repr(known.worked)))
    else:
        yield from (("gamma_shape", repr(known.shape)), ("gamma_hours", repr(known.hours)))


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _number(value: float) -> str:
    """Six digits; an exponent always with a point before it, as YAML 1.1 wants it."""
    shown = f"{value:.6g}" if isfinite(value) else ".inf"
    mantissa, e, power = shown.partition("e")
    return f"{mantissa if '.' in mantissa or not e else mantissa + '.0'}{e}{power}"
