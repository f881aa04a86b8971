"""Files of rates that a scenario includes, as `staylit rates` writes them.

In: a tree of texts and where each path stands in its file. Out: frozen `OwnRate`s, per hour or per
occasion, or problems in five parts.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isfinite
from typing import Annotated, Any

from pydantic import Field, ValidationError

from sim.errors import InputError, nearest_name, refuse
from sim.faults import MODES, OCCASIONS, counted_per, modes_of
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
    """The rates of a file. Raises InputError with every problem found."""
    try:
        file = RatesFile.model_validate(tree)
    except ValidationError as error:
        raise InputError(problems_of(error, RatesFile, where)) from None
    for number, entry in enumerate(file.rates):
        _check(entry, lambda key, row=number: where(("rates", row, key)))  # type: ignore[misc]
    return tuple(map(_own, file.rates))


def _check(entry: LearnedEntry, where: Callable[[str], str]) -> None:
    """Raises InputError if the mode is none of the family's, or is not counted so."""
    modes = modes_of(entry.family)
    if entry.mode not in modes:
        found = f"{entry.mode!r} is no fault mode of a {entry.family}"
        near = nearest_name(entry.mode, modes)
        raise refuse(where("mode"), found, ", ".join(modes), near, "correct it")
    counted = counted_per(entry.family, entry.mode)
    if entry.per not in counted:
        found = f"{entry.mode} of a {entry.family} per {entry.per}"
        todo = "write the file again with `staylit rates`"
        raise refuse(where("per"), found, ", ".join(counted), "", todo)
    if entry.per != "hour" and entry.mean >= 1:
        found, allowed = f"a chance of {entry.mean:g}", "below 1"
        raise refuse(where("mean"), found, allowed, "", "write the file again with `staylit rates`")


def _own(entry: LearnedEntry) -> OwnRate:
    factor = _finite(entry.error_factor or "1")
    return OwnRate(
        mode=entry.mode,
        value=entry.mean,
        kit=entry.kit or "",
        family="" if entry.kit else entry.family,
        error_factor=factor,
        source=entry.source,
        per=entry.per,
    )


def _finite(text: str) -> float:
    """A number of the file; one that is beyond counting (`.inf`) as a thousand."""
    return float(text) if _NUMBER.fullmatch(text) else 1000.0
