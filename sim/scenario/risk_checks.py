"""Whether what is said about risk holds together: crew, shared causes, contract, edges, moments.

In: a file whose entries are valid by themselves. Out: problems in five parts, by the rules in
`RISK_RULES`. Whether names match things is looked at later, with the rigs.
"""

from __future__ import annotations

from itertools import pairwise

from sim.errors import nearest_name
from sim.rig.equipment import TYPES
from sim.scenario.checks import Checked, Found
from sim.scenario.contract_checks import contract
from sim.scenario.laws import FAMILIES
from sim.scenario.messages import Path
from sim.scenario.risk_entries import CrewEntry, RepairEntry, TogetherEntry

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
    yield from _again(on, entry)
    if entry.wrong_unit == 1:
        found = "a wrong unit every time, so that nothing is ever mended"
        yield on.wrong(("crew", "wrong_unit"), found, BELOW, todo="write a smaller one, as 3 %")


BELOW = "a chance below 100 %"


def _again(on: Checked, crew: CrewEntry) -> Found:
    """No repair mends what one before it mends already."""
    for number, later in enumerate(crew.repairs):
        for before in crew.repairs[:number]:
            whose = _shared(before, later)
            if whose and _taken(before, later):
                yield on.wrong(
                    ("crew", "repairs", number),
                    f"a second repair of {whose}: only the first of two counts",
                    "one for each mode; one without modes last, for all others",
                    todo="delete one of the two, or say modes: that differ",
                )
                break


def _shared(one: RepairEntry, other: RepairEntry) -> str:
    """A pattern, type or family that both name; "" for none."""
    patterns = (each for each in one.things if each in other.things)
    kit = one.kit if one.kit == other.kit else None
    family = one.family if one.family == other.family else None
    return next(patterns, None) or kit or family or ""


def _taken(before: RepairEntry, later: RepairEntry) -> bool:
    """Whether the earlier has a mode of the later; one without modes later has what is left."""
    return not before.modes or bool({*before.modes} & {*later.modes})


def load_in(on: Checked) -> Found:
    """Not every cable is patched wrong."""
    if on.file.load_in.patch_error == 1:
        found, todo = "every cable patched wrong", "write a smaller one, as 0.1 %"
        yield on.wrong(("load_in", "patch_error"), found, BELOW, todo=todo)


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
    yield from _beyond(on)


def _beyond(on: Checked) -> Found:
    """Identical units do not share more failures than they have."""
    sums: dict[tuple[str | None, ...], float] = {}
    for number, entry in enumerate(on.file.together):
        key = (entry.kit, entry.family, entry.mode)
        before = sums.get(key, 0.0)
        sums[key] = before + (entry.share or 0.0)
        if before <= 1 + ROUNDING < sums[key]:
            whose = f"{entry.kit or entry.family} {entry.mode}"
            found = f"shares of {whose} that add up to {sums[key] * 100:.4g} %"
            todo = "lower one of them"
            yield on.wrong(("together", number, "share"), found, "up to 100 % in all", todo=todo)


ROUNDING = 1e-9
"""Sums of shares are floats."""


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


RISK_RULES = (crew, load_in, together, contract, edges, moments, longest)
