"""Risk studies for programs: a JSON document with a format number, a CSV row for each figure.

In: frozen `RiskStudy`s. Out: plain values, CSV, with all digits: chances per show, wall-seconds and
frames a show, money in the contract's currency (in JSON exact amounts are texts).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from sim.report.blocks import CAUTIONS
from sim.report.risk_first import NOT_STUDIED
from sim.report.risk_register import FLASHES
from sim.report.tables import as_csv
from sim.report.values import as_values
from sim.risk.results import Figure, Paired, RiskStudy, TopologyRisk

RISK = "staylit-risk 1"
ABOUT = {
    "exact": 'texts such as "3/2" or "12.50" are exact; null: not stated, or beyond counting',
    "kind": "chance: per show; wall-seconds: a show, the whole group dark for one second is one; "
    "frames: a show; money: a show, in the contract's currency",
    "found": "value, and its interval by chance (low, high) at this level, from so many simulated "
    "shows; exact: all three alike; value 0 with high above 0: none seen, high is an upper bound",
    "band": "5th and 95th percentile by ignorance of rates and timings; never added to the "
    "interval; null: not asked for",
    "guessed": "the part, 0 to 1, that rests on placeholder rates",
    "indicative": "whether that lies above indicative_above: then it is indicative, not evidence",
    "key": "names a figure in all topologies: defect, dark, dark time, critical, moving, frames, "
    "loss; wall TIME: a whole wall dark for longer than TIME in one go; clause N step M: as in the "
    "contract, both from 1",
    "seen": "of the worst of a row, by itself: parts of the area that stay dark or otherwise not "
    "as intended, with turns on and off; blink: the most before it has settled, frames least and "
    "most over the phase, time in flicks",
    "reaches": "chance per show that a risk brings a night of each severity or worse, alone or "
    "with others, the worst first; severity and level: where the matrix finds it gravest",
    "alike": "topologies that the same shows do not tell apart from this one",
    "leading": "keys of the chances to read first: the likeliest, the gravest",
    "causes": "cause, mean number of its strikes a show",
    "times": "whole flicks, 705600000 to the second",
}


def risk_document(studies: Iterable[RiskStudy]) -> dict[str, Any]:
    """Everything that `risk` works out."""
    return {
        "format": RISK,
        "about": ABOUT,
        "cautions": [*CAUTIONS.texts, FLASHES],
        "not_studied": NOT_STUDIED,
        "groups": [_study(study) for study in studies],
    }


def _study(study: RiskStudy) -> dict[str, Any]:
    made = dict(as_values(study))
    made["indicative_above"] = study.terms.indicative_above
    for one, each in zip(study.topologies, made["topologies"], strict=True):
        each["can_be_built"] = not one.reasons
        each["figures"] = [_marked(study, figure) for figure in one.figures]
        each["loss_expected"] = one.loss_expected and _marked(study, one.loss_expected)
    return made


def _marked(study: RiskStudy, figure: Figure) -> dict[str, Any]:
    return {**as_values(figure), **_marks(study, figure)}


def _marks(study: RiskStudy, figure: Figure) -> dict[str, Any]:
    return {
        "exact": figure.found.exact,
        "none_seen": figure.found.bound_only,
        "indicative": figure.guessed > study.terms.indicative_above,
    }


UNITS = {
    "chance": "1 per show", "wall-seconds": "wall-seconds per show", "frames": "frames per show",
    "money": "currency per show", "share": "part of 1",
}  # fmt: skip
HEAD = (
    "group", "topology", "offered", "can_be_built", "reasons", "key", "figure", "kind", "unit",
    "currency", "value", "low", "high", "level", "method", "shows", "exact", "none_seen",
    "band_low", "band_high", "guessed", "indicative", "more_than_offered", "more_low", "more_high",
    "unfinished", "seed", "version", "digest",
)  # fmt: skip


def risk_csv(studies: Iterable[RiskStudy]) -> str:
    """One line for each figure and topology; one without a figure for what cannot be built."""
    return as_csv(HEAD, (line for study in studies for line in _lines(study)))


def _lines(study: RiskStudy) -> Iterator[dict[str, Any]]:
    for one in study.topologies:
        first = {**dict.fromkeys(HEAD), **_where(study, one)}
        if one.reasons:
            yield first
            continue
        for figure in (*one.figures, *((one.loss_expected,) if one.loss_expected else ())):
            yield {**first, **_figure(study, figure), **_paired(study, one, figure.key)}
        yield from ({**first, **line} for line in _amounts(study, one))


def _where(study: RiskStudy, one: TopologyRisk) -> dict[str, Any]:
    return {
        "group": study.group, "topology": one.variant.label, "offered": one.variant.offered,
        "can_be_built": not one.reasons, "reasons": one.reasons, "unfinished": one.unfinished,
        "seed": study.seed, "version": study.version, "digest": study.digest,
    }  # fmt: skip


def _figure(study: RiskStudy, figure: Figure) -> dict[str, Any]:
    found, band = figure.found, figure.band or (None, None)
    return {
        "key": figure.key, "figure": figure.name, "kind": figure.kind, "unit": UNITS[figure.kind],
        "currency": _code(study, figure.kind), "value": found.value, "low": found.low,
        "high": found.high, "level": found.level, "method": found.method, "shows": found.shows,
        "band_low": band[0], "band_high": band[1], "guessed": figure.guessed,
        **_marks(study, figure),
    }  # fmt: skip


def _code(study: RiskStudy, kind: str) -> str | None:
    contract = study.terms.contract
    return contract.currency if contract and kind == "money" else None


def _paired(study: RiskStudy, one: TopologyRisk, key: str) -> dict[str, Any]:
    at = (one.variant.label, key)
    each: Paired | None = next((p for p in study.paired if (p.label, p.key) == at), None)
    if each is None:
        return {}
    found = each.found
    return {"more_than_offered": found.value, "more_low": found.low, "more_high": found.high}


def _amounts(study: RiskStudy, one: TopologyRisk) -> Iterator[dict[str, Any]]:
    """Figures without an interval."""
    yield _plain("availability", "part of area and time not dark", "share", one.availability)
    if study.terms.contract is None:
        return
    money: tuple[tuple[str, str, Decimal | None], ...] = (
        ("loss_100", "loss that 99 of 100 shows do not exceed", one.loss_100),
        ("loss_1000", "loss that 999 of 1000 shows do not exceed", one.loss_1000),
        ("loss_worst", "worst foreseeable loss", one.loss_worst),
        ("price", "price", one.price),
    )
    for key, name, value in money:
        if value is not None:
            code = study.terms.contract.currency
            unit = UNITS["money"] if key != "price" else "currency"
            yield {**_plain(key, name, "money", value), "currency": code, "unit": unit}


def _plain(key: str, name: str, kind: str, value: float | Decimal) -> dict[str, Any]:
    return {"key": key, "figure": name, "kind": kind, "unit": UNITS[kind], "value": value}
