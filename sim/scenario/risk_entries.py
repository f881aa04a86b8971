"""What may stand in a scenario file about the risk of a show: crew, tests, shared causes, contract.

In: a tree of texts and a `Reading` as validation context. Out: frozen entries with values
converted (flicks, laws, chances, exact shares and amounts) but nothing filled in: None means not
said.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from sim.faults import MODES
from sim.rig.terms import KINDS
from sim.scenario.entries import AnyCount, Entry, TypeName, Words, said
from sim.scenario.fields import FieldError, Flicks, Title, ref, word
from sim.scenario.laws import (
    FAMILIES,
    STATED,
    BeforeText,
    Chance,
    Hours,
    Lasting,
    LawText,
    Pays,
    PaysText,
)
from sim.scenario.numbers import PriceText, Share, count
from sim.scenario.ratetext import AmountText
from sim.scenario.stated import STATES

WAYS = ("swap", "restart", "remote")
ALONE = ("flapping", "drops", "attenuated", "moved")
"""Modes that say more than that something fails, so that no shared cause has them."""
EVERY_MODE = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
SHARED_MODES = tuple(mode for mode in EVERY_MODE if mode not in ALONE)
Family = Annotated[str, word(*FAMILIES)]


class OwnerEntry(Entry):
    """Whose it is: things by name, all of a type, or all of a family."""

    things: Words = ()
    kit: TypeName | None = Field(default=None, alias="type")
    family: Family | None = None


class RepairEntry(OwnerEntry):
    """How something is mended; `modes` unsaid: whatever it has."""

    modes: tuple[Annotated[str, word(*EVERY_MODE)], ...] = ()
    by: Annotated[str, word(*WAYS)] = said("swap (takes a spare), restart, or remote", "swap")
    travel: LawText | None = None
    diagnose: LawText | None = None
    fix: LawText = said("how long the work itself takes", "3..10 min")


class CrewEntry(Entry):
    short = "technicians"
    technicians: Annotated[int, count(1, 100)] = said("how many can mend at once", "2")
    control: Annotated[str, ref("controls")] | None = None
    wrong_unit: Chance | None = None
    travel: LawText | None = None
    diagnose: LawText | None = None
    spares: dict[str, AnyCount] = Field(default_factory=dict)
    repairs: tuple[RepairEntry, ...] = ()
    source: Title = STATED


class TestedEntry(Entry):
    """When things were last seen to work as a backup."""

    things: Words = said("names or patterns of things", '"*relay-backup*"')
    before: BeforeText = said("how long before the show, or never", "2 h")
    evidence: Title = ""


class TogetherEntry(OwnerEntry):
    """What strikes several things at once."""

    name: Title = said("what the cause is called", "rain on the banks")
    mode: Annotated[str, word(*SHARED_MODES)] = "dead"
    share: Chance | None = None
    rate: AmountText | None = None
    time: Lasting | None = Field(default=None, alias="for")
    source: Title = STATED


class StepEntry(Entry):
    time: Flicks = said("longer than this in one go", "5 s", alias="for")
    pays: PaysText = said("a share of the fee, or an amount", "15 %")


SINGLE = (("for", "pays"), ("5 s", "15 %"))
BOTH = "for (longer than this in one go) and pays, or a list of both as steps"


class ClauseEntry(Entry):
    """More than <over> of <of> in <state>, in one go for longer than a step's time."""

    name: Title = said("what the clause is called", "refund for a dark screen")
    kind: Annotated[str, word(*KINDS)] = "refund"
    state: Annotated[str, word(*STATES)] = said("a state: " + ", ".join(STATES), "dark")
    over: Share = said("a share that may not be exceeded", "10 %")
    of: Annotated[str, ref("areas")] = said(
        "wall, group, or the name of a wall, region or audience area", "wall"
    )
    group: Annotated[str, ref("groups")] | None = None
    steps: tuple[StepEntry, ...] = ()
    time: Flicks | None = Field(default=None, alias="for")
    pays: PaysText | None = None

    @model_validator(mode="after")
    def _some_step(self) -> Self:
        """Steps, or for and pays: the short form of a single one."""
        short = (self.time is not None, self.pays is not None)
        if self.steps and any(short):
            todo = "write for and pays within steps, or leave steps out"
            raise FieldError("both steps and for or pays", "one of the two", todo=todo)
        if not self.steps and not all(short):
            missing = [f"{k}: {v}" for k, v, s in zip(*SINGLE, short, strict=True) if not s]
            todo = f"add {' and '.join(missing)}"
            raise FieldError("a clause that does not say what it pays", BOTH, todo=todo)
        return self


def steps_of(clause: ClauseEntry) -> tuple[tuple[int, Pays], ...]:
    """Times in flicks and what is paid beyond them."""
    if clause.time is not None and clause.pays is not None:
        return ((clause.time, clause.pays),)
    return tuple((step.time, step.pays) for step in clause.steps)


class ContractEntry(Entry):
    fee: PriceText = said("the fee that shares are of; money is never assumed", "120 000 EUR")
    deductible: PriceText | None = None
    cover: PriceText | None = None
    cap: PriceText | None = None
    clauses: tuple[ClauseEntry, ...] = ()


class LoadInEntry(Entry):
    patch_error: Chance | None = None
    caught: Chance | None = None
    source: Title = STATED


class RiskEntry(Entry):
    """What is asked of the risk report."""

    longest: tuple[Flicks, ...] = ()
    edges: tuple[Chance, ...] = ()
    untested_age: Hours | None = None
    indicative_above: Chance | None = None
    rates_only: Annotated[str, word("stated")] | None = None
