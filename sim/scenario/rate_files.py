"""Files of rates that a scenario includes, as `staylit rates` writes them.

In: a tree of texts and where each path stands in its file. Out: frozen `OwnRate`s per hour, or
problems in five parts. Rates per demand are checked and left alone: no single fault uses them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isfinite
from typing import Annotated, Any

from pydantic import Field, ValidationError

from sim.errors import InputError, nearest_name, refuse
from sim.faults import CHANGEOVER, MODES, OCCASIONS
from sim.rig.rates import OwnRate
from sim.scenario.entries import Entry, said
from sim.scenario.fields import FieldError, Title, plain, text_of, word
from sim.scenario.messages import Path, problems_of

FORMAT = "1"
_NUMBER = re.compile(r"[0-9]{1,15}(\.[0-9]{1,20})?([eE][+-]?[0-9]{1,3})?")


def _amount(value: Any) -> float:
    allowed = "a finite number from 0 up"
    text = text_of(value, allowed)
    if not _NUMBER.fullmatch(text) or not isfinite(float(text)):
        todo = "write the file again with `staylit rates`"
        raise FieldError(f"{text[:60]!r} is no such number", allowed, todo=todo)
    return float(text)


def _mean(value: Any) -> float:
    found = _amount(value)
    if not found:
        todo = "write the file again with `staylit rates`: nothing has a rate of zero"
        raise FieldError("a rate of zero", "a number above 0", todo=todo)
    return found


AMOUNT = {"type": ["string", "number"]}
Number = Annotated[float, plain(_amount, AMOUNT)]
Text = Annotated[str, plain(lambda value: text_of(value, "a text"), {"type": "string"})]


class LearnedEntry(Entry):
    """One rate of the owner's records."""

    family: Annotated[str, word(*MODES)] = said("a kind of thing", "relay")
    kit: Title | None = Field(default=None, alias="type")
    mode: Title = said("a fault mode", "dead")
    per: Annotated[str, word("hour", *OCCASIONS)] = said("hour, or a kind of demand", "hour")
    mean: Annotated[float, plain(_mean, AMOUNT)] = said("the posterior mean", "1.2e-05")
    low: Number | None = None
    high: Text | None = None
    error_factor: Text | None = None
    gamma_shape: Number | None = None
    gamma_hours: Number | None = None
    beta_failed: Number | None = None
    beta_worked: Number | None = None
    failures: Number | None = None
    hours: Number | None = None
    demands: Number | None = None
    prior: Title | None = None
    source: Title = said("which records, of which days", "fleet.csv, 2024-01-01 to 2025-01-01")


class RatesFile(Entry):
    """A whole file of rates."""

    format: Annotated[str, word(FORMAT)] = said("the format's number", FORMAT)
    rates: tuple[LearnedEntry, ...] = said("the rates", "[]")


def learned_of(tree: Any, where: Callable[[Path], str]) -> tuple[OwnRate, ...]:
    """The rates per hour of a file. Raises InputError with every problem found."""
    try:
        file = RatesFile.model_validate(tree)
    except ValidationError as error:
        raise InputError(problems_of(error, RatesFile, where)) from None
    for number, entry in enumerate(file.rates):
        modes = (*MODES[entry.family], CHANGEOVER)
        if entry.mode not in modes:
            _refuse(where(("rates", number, "mode")), entry, modes)
    return tuple(_own(entry) for entry in file.rates if entry.per == "hour")


def _refuse(where: str, entry: LearnedEntry, modes: tuple[str, ...]) -> None:
    found = f"{entry.mode!r} is no fault mode of a {entry.family}"
    near = nearest_name(entry.mode, modes)
    raise refuse(where, found, ", ".join(modes), near, "correct it")


def _own(entry: LearnedEntry) -> OwnRate:
    factor = _finite(entry.error_factor or "1")
    return OwnRate(
        mode=entry.mode,
        per_hour=entry.mean,
        kit=entry.kit or "",
        family="" if entry.kit else entry.family,
        error_factor=factor,
        source=entry.source,
    )


def _finite(text: str) -> float:
    """A number of the file; one that is beyond counting (`.inf`) as a thousand."""
    return float(text) if _NUMBER.fullmatch(text) else 1000.0
