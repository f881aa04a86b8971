"""Rates from an owner's records for people and programs: posteriors, intervals, placeholders.

In: a frozen `OwnRates`. Out: blocks, a JSON-able document, or CSV. For people figures have three
digits, and `1 failure in about` two, bounds rounded down; programs get all digits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from math import isfinite
from typing import Any

from sim.limits.findings import first_few, grouped, kind_words
from sim.reliability.beside import BETA, GAMMA, OwnRates, RateRow
from sim.reliability.learned import Key
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.tables import as_csv
from sim.report.words import counted, harmless, listed

RATES = "staylit-rates 1"
YEAR = 8760
"""Hours."""
MANY = {"power-up": "power-ups", "load-in": "load-ins"}
GAP = "1 failure\nin about"
SOURCE = "NASA/SP-2009-569"


# ---- for people ----------------------------------------------------------------------------------


def rates_blocks(found: OwnRates) -> Blocks:
    """The whole report."""
    made: list[Block] = [Heading(f"{harmless(found.source)}: failure rates", 1), Para(_lead(found))]
    for heading, unit, hourly in (("By the hour", "hours", True), ("On demand", "demands", False)):
        lines = [line for line in found.lines if line.hourly == hourly]
        if lines:
            made += [Heading(heading), _table(lines, unit, hourly)]
    made += _beside([line for line in found.lines if line.hourly])
    made += [Heading("What stays a placeholder"), Para(_silent(found))]
    made += [Heading("How to read it"), Points(tuple(_notes(found)))]
    return (*made, Heading("Cautions"), CAUTIONS)


def _lead(found: OwnRates) -> str:
    said = (
        f"{counted(found.rows, 'row')} about {counted(found.things, 'thing')}, from "
        f"{found.begins.date()} to {found.ends.date()}, "
    )
    if not found.lines:
        return f"{said}hold no hours in use and no demands: there is nothing to learn from them."
    hourly = sum(line.hourly for line in found.lines)
    said += f"give {counted(hourly, 'rate')} by the hour"
    said += f" and {counted(len(found.lines) - hourly, 'chance')} on demand. "
    names = [_name(line.learned.key) for line in found.outside]
    if not hourly:
        return said.rstrip()
    if not names:
        return f"{said}No placeholder of these lies outside its 90 % interval."
    return (
        f"{said}{counted(len(names), 'placeholder')} of these "
        f"{'lies' if len(names) == 1 else 'lie'} outside the 90 % interval: {first_few(names, 6)}."
    )


def _name(key: Key) -> str:
    kit = f" ({harmless(key.kit)})" if key.kit else ""
    return f"{kind_words(key.family)}{kit} {key.mode}"


def _table(lines: Iterable[RateRow], unit: str, hourly: bool) -> Table:
    mean = "an hour" if hourly else "chance"
    head = ("fault", "seen", unit, mean, "90 % from", "to", "error\nfactor", GAP)
    return Table(head, tuple(_cells(line) for line in lines), frozenset({1, 2, 6}))


def _cells(line: RateRow) -> tuple[str, ...]:
    one, found = line.learned, line.found
    return (
        _name(one.key), grouped(one.failures), _amount(one.exposure),
        figure(found.value) if line.seen else f"under {figure(found.high)}",
        figure(found.low) if line.seen else "-", figure(found.high) if line.seen else "-",
        figure(line.factor), _gap(line),
    )  # fmt: skip


def _gap(line: RateRow) -> str:
    """`26 years of use`, `over 2 100 h of use`, `120 changeovers`."""
    per = line.learned.key.per
    of = "" if line.hourly else MANY.get(per, f"{per}s")
    if not line.seen:
        return f"over {every(line.bound.high, of, ROUND_FLOOR)}"
    return every(line.found.value, of)


def every(rate: float, of: str = "", rounding: str = ROUND_HALF_EVEN) -> str:
    """What lies between two failures at this rate (above 0), to two digits.

    Per hour in hours or years of use; else in `of`, what a demand is called in the plural.
    """
    gap = 1 / Decimal(repr(float(rate)))
    if of:
        return f"{_two(gap, rounding)} {of}"
    years = gap >= YEAR
    return f"{_two(gap / YEAR if years else gap, rounding)} {'years' if years else 'h'} of use"


def _two(value: Decimal, rounding: str) -> str:
    shown = Context(prec=2, rounding=rounding).create_decimal(value)
    return grouped(int(shown)) if shown >= 10 else f"{float(shown):#.2g}"


def figure(value: float) -> str:
    """Three digits: `4.33e-6`, `0.0175`, `12.4`, `3 120`; beyond counting where it is infinite."""
    if not isfinite(value):
        return "beyond counting"
    mantissa, _, power = f"{value:.2e}".partition("e")
    if value and int(power) < -2:
        return f"{mantissa}e{int(power)}"
    rounded = float(f"{value:.3g}")
    return grouped(int(rounded)) if rounded >= 1000 else f"{value:#.3g}".rstrip(".")


def _amount(value: float) -> str:
    """Hours or demands: in groups of digits; to a tenth, or to three digits where it is small."""
    if value < 10 and value != int(value):
        return figure(value)
    whole, tenths = f"{value:.1f}".split(".")
    return grouped(int(whole)) + (f".{tenths}" if tenths != "0" else "")


def _beside(lines: Sequence[RateRow]) -> Iterator[Block]:
    if not lines:
        return
    yield Heading("Beside the placeholders")
    head = ("fault", "from", "to", "mean", "placeholder", GAP, "it lies")
    yield Table(head, tuple(_beside_cells(line) for line in lines))


def _beside_cells(line: RateRow) -> tuple[str, ...]:
    one, shipped = line.learned, line.placeholder
    period = (str(one.begins.date()), str(one.ends.date()))
    beside = ("none", "-", "-") if shipped is None else (_plain(shipped), every(shipped), line.lies)
    return (_name(one.key), *period, figure(line.found.value), *beside)


def _plain(value: float) -> str:
    """A placeholder with no digits that it does not have: `1e-5`."""
    mantissa, _, power = f"{value:.2e}".partition("e")
    return f"{mantissa.rstrip('0').rstrip('.')}e{int(power)}"


def _silent(found: OwnRates) -> str:
    if not found.silent:
        return "Nothing: the records speak of every fault mode of every kind."
    said = (
        f"{grouped(len(found.silent))} of the {grouped(found.modes)} fault modes that the program "
        "knows stay placeholders, because no row speaks of them by the hour"
    )
    kinds: dict[str, list[str]] = {}
    for family, mode in found.silent:
        kinds.setdefault(family, []).append(mode)
    return f"{said}: {'; '.join(f'{kind_words(f)} {listed(m)}' for f, m in kinds.items())}."


def _notes(found: OwnRates) -> Iterator[str]:
    hourly = any(line.hourly for line in found.lines)
    if hourly:
        yield (
            f"By the hour: {GAMMA} updating from Jeffreys' prior ({SOURCE}): after r failures in T "
            "hours in use the rate is believed to be gamma with shape r + 0.5 and T hours."
        )
    if not all(line.hourly for line in found.lines):
        yield (
            f"On demand: {BETA} updating from Jeffreys' prior ({SOURCE}): after r failures in n "
            "demands the chance is believed to be beta with r + 0.5 and n - r + 0.5."
        )
    if found.lines:
        yield (
            "an hour and chance: the mean. 90 %: from the 5th to the 95th percentile. error "
            "factor: the 95th percentile over the median."
        )
    if not all(line.seen for line in found.lines):
        yield (
            "under: none was seen, which proves no rate of zero. What follows is the 95th "
            "percentile; the mean, which a file of these rates holds, is then that of half a "
            "failure: with few hours it says little of the equipment."
        )
    if hourly:
        yield (
            "it lies: the placeholder, within the records' 90 % interval, above it (they saw "
            "fewer failures) or below it (they saw more); where none was seen the interval begins "
            f"at 0. A year of use has {grouped(YEAR)} hours."
        )
    if any(line.learned.key.kit for line in found.lines):
        yield (
            "A type in brackets is the owner's: its rates are those of this type alone, and things "
            "of its kind that are of no such type keep the placeholder."
        )


# ---- for programs --------------------------------------------------------------------------------

ABOUT = {
    "mean": "posterior mean, per hour in use or per demand; low and high: 5th and 95th percentile",
    "none_seen": "no failure was counted: high is an upper bound at 95 %, mean rests on the prior",
    "error_factor": "95th percentile over median; null where it is beyond counting",
    "placeholder": "shipped rate per hour of the same kind and mode; lies: within, above or below "
    "the interval from low (0 if none was seen) to high",
    "stay_placeholders": "kinds with fault modes that no row speaks of by the hour",
}
HEAD = (
    "family", "type", "mode", "per", "failures", "exposure", "rows", "begins", "ends", "mean",
    "low", "high", "none_seen", "error_factor", "method", "prior", "shape", "placeholder", "lies",
)  # fmt: skip


def rates_document(found: OwnRates) -> dict[str, Any]:
    """Everything that `rates` works out."""
    return {
        "format": RATES,
        "about": ABOUT,
        "cautions": [*CAUTIONS.texts],
        "records": {
            "source": found.source, "rows": found.rows, "things": found.things,
            "begins": found.begins.isoformat(), "ends": found.ends.isoformat(),
        },
        "rates": [{**_fields(line), "shape": asdict(line.learned.known)} for line in found.lines],
        "stay_placeholders": [{"family": family, "mode": mode} for family, mode in found.silent],
    }  # fmt: skip


def rates_csv(found: OwnRates) -> str:
    """One line for each rate."""
    return as_csv(HEAD, (_fields(line) for line in found.lines))


def _fields(line: RateRow) -> dict[str, Any]:
    one = line.learned
    return {
        "family": one.key.family, "type": one.key.kit, "mode": one.key.mode, "per": one.key.per,
        "failures": one.failures, "exposure": one.exposure, "rows": one.rows,
        "begins": one.begins.isoformat(), "ends": one.ends.isoformat(),
        "mean": _finite(line.found.value), "low": _finite(line.found.low),
        "high": _finite(line.found.high), "none_seen": not line.seen,
        "error_factor": _finite(line.factor), "method": line.method, "prior": one.prior,
        "shape": [f"{name} {value}" for name, value in asdict(one.known).items()],
        "placeholder": line.placeholder, "lies": line.lies or None,
    }  # fmt: skip


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
