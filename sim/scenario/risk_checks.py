"""Whether what is said about risk holds together: crew, shared causes, contract, edges, moments.

In: a file whose entries are valid by themselves. Out: problems in five parts, by the rules in
`RISK_RULES`. Whether names match things is looked at later, with the rigs.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from sim.errors import nearest_name
from sim.rig.equipment import TYPES
from sim.scenario.checks import Checked, Found
from sim.scenario.laws import FAMILIES
from sim.scenario.messages import Path
from sim.scenario.risk_entries import ClauseEntry, ContractEntry, StepEntry, TogetherEntry

EDGES = 4
"""Between the five levels of a risk matrix in the form of MIL-STD-882E."""


def crew(on: Checked) -> Found:
    """Spares are of types or families; what is restarted from afar needs a control link."""
    entry = on.file.crew
    if entry is None:
        return
    known = sorted({*TYPES, *on.file.equipment, *FAMILIES})
    for name in entry.spares:
        if name not in known:
            yield on.wrong(
                ("crew", "spares", name),
                f"{name!r} is neither an equipment type nor a family",
                ", ".join(known),
                nearest_name(name, known),
                "correct the name, or declare it under equipment",
            )
    for number, repair in enumerate(entry.repairs):
        if repair.by == "remote" and entry.control is None:
            yield on.wrong(
                ("crew", "repairs", number, "by"),
                "a remote restart without a control link",
                "control: the name of one declared under controls",
                todo="add control: to crew, or write by: restart",
            )


def together(on: Checked) -> Found:
    """A cause by name strikes at a rate; identical units share a part of their failures."""
    for number, entry in enumerate(on.file.together):
        path: Path = ("together", number)
        wanted, other = ("rate", "share") if entry.things else ("share", "rate")
        if not entry.things and not entry.kit and not entry.family:
            continue
        if getattr(entry, wanted) is None:
            example = "0.5 % per show" if wanted == "rate" else "5 %"
            found = f"{entry.name!r} does not say how often"
            yield on.wrong(path, found, _NEEDS[wanted], todo=f"add {wanted}: {example}")
        elif getattr(entry, other) is not None:
            todo = f"delete {other}"
            yield on.wrong((*path, other), f"{other} beside {wanted}", _NEEDS[wanted], todo=todo)
        yield from _lasting(on, path, entry)


_NEEDS = {
    "rate": "rate for what strikes named things",
    "share": "share for a type or family: how many of its failures strike all units at once",
}


def _lasting(on: Checked, path: Path, entry: TogetherEntry) -> Found:
    if entry.time is not None and entry.mode == "restart":
        found, allowed = "a restart for a time", "how long a start takes: timings of the things"
        yield on.wrong((*path, "for"), found, allowed, todo="delete for, or write mode: tripped")
    per = entry.rate.per if entry.rate is not None else "hour"
    if per not in ("hour", "show"):
        each = "for each km of several things" if per == "km" else f"per {per} of a shared cause"
        found, allowed = f"a rate {each}", "per h, per year, per show"
        yield on.wrong((*path, "rate"), found, allowed, todo="say how often the cause strikes")


def contract(on: Checked) -> Found:
    """A fee, clauses of their own names with rising steps, and an insurance that is whole."""
    entry = on.file.contract
    if entry is None:
        return
    if not entry.fee[0]:
        todo = "write the fee, or leave contract out"
        yield on.wrong(("contract", "fee"), "a fee of nothing", "an amount above 0", todo=todo)
    for one, other in (("cover", "deductible"), ("deductible", "cover")):
        if getattr(entry, one) and getattr(entry, other) is None:
            yield on.wrong(
                ("contract", one),
                f"{one} without {other}",
                "both, or neither: what the insurer bears beyond the deductible",
                todo=f"add {other}: {'0' if other == 'deductible' else '50 000'} {entry.fee[1]}",
            )
    told: set[str] = set()
    for number, clause in enumerate(entry.clauses):
        path: Path = ("contract", "clauses", number)
        if clause.name in told:
            found = f"{clause.name!r} a second time"
            yield on.wrong(path, found, "each name once", todo="rename one of the two")
        told.add(clause.name)
        yield from _steps(on, path, entry, clause)


def _steps(on: Checked, path: Path, entry: ContractEntry, clause: ClauseEntry) -> Found:
    for number, (before, step) in enumerate(pairwise(clause.steps), 1):
        longer = step.time > before.time
        if not longer or _worth(entry, step) <= _worth(entry, before):
            yield on.wrong(
                (*path, "steps", number),
                f"a step that pays no {'more' if longer else 'later'} than the one before it",
                "longer and dearer from step to step",
                todo="put the steps in order, or delete one",
            )


def _worth(entry: ContractEntry, step: StepEntry) -> Fraction:
    """What a step pays, as an amount."""
    pays = step.pays
    return Fraction(pays[0]) if isinstance(pays, tuple) else Fraction(pays) * entry.fee[0]


def edges(on: Checked) -> Found:
    """The edges of the risk matrix fall, and are as many as it needs."""
    found = on.file.risk.edges
    if found and (len(found) != EDGES or any(a <= b for a, b in pairwise((1.0, *found, 0.0)))):
        yield on.wrong(
            ("risk", "edges"),
            "edges that do not divide a risk matrix",
            f"{EDGES} chances below 100 %, each below the one before",
            todo="write them as [10 %, 1 %, 0.1 %, 0.0001 %]",
        )


def moments(on: Checked) -> Found:
    """No instant counts by two weights."""
    if ("show",) in on.left_out:
        return
    moments = sorted((m.begin, m.end, n) for n, m in enumerate(on.file.show.critical) if m.weight)
    for (_, end, _), (begin, _, number) in pairwise(moments):
        if begin < end:
            yield on.wrong(
                ("show", "critical", number),
                "a weighted moment that overlaps another",
                "one weight at a time",
                todo="let one end where the other begins",
            )


def longest(on: Checked) -> Found:
    """Times to ask for lie within the show."""
    for number, time in enumerate(on.file.risk.longest):
        if not 0 < time < on.file.show.length:
            where = ("risk", "longest", number)
            found, allowed = "a time that no show can tell", "more than 0, less than the show"
            yield on.wrong(where, found, allowed, todo="write another, such as 10 s")


RISK_RULES = (crew, together, contract, edges, moments, longest)
