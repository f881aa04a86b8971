"""Whether a contract holds together: fee, clauses, what dues are held to, insurance.

In: a file whose entries are valid by themselves. Out: problems in five parts.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from sim.scenario.checks import Checked, Found
from sim.scenario.laws import Pays
from sim.scenario.messages import Path
from sim.scenario.risk_entries import ClauseEntry, ContractEntry, steps_of


def contract(on: Checked) -> Found:
    """A fee, clauses of their own names with rising steps, and an insurance that is whole."""
    entry = on.file.contract
    if entry is None:
        return
    if not entry.fee[0]:
        todo = "write the fee, or leave contract out"
        yield on.wrong(("contract", "fee"), "a fee of nothing", "an amount above 0", todo=todo)
        return
    for one, other in (("cover", "deductible"), ("deductible", "cover")):
        if getattr(entry, one) and getattr(entry, other) is None:
            yield on.wrong(
                ("contract", one),
                f"{one} without {other}",
                "both, or neither: what the insurer bears beyond the deductible",
                todo=f"add {other}: {'0' if other == 'deductible' else '50 000'} {entry.fee[1]}",
            )
    yield from _limits(on, entry)
    told: set[str] = set()
    for number, clause in enumerate(entry.clauses):
        path: Path = ("contract", "clauses", number)
        if clause.name in told:
            found = f"{clause.name!r} a second time"
            yield on.wrong(path, found, "each name once", todo="rename one of the two")
        told.add(clause.name)
        yield from _steps(on, path, entry, clause)
        yield from _never(on, path, entry, clause)


def _limits(on: Checked, entry: ContractEntry) -> Found:
    """What dues are held to lets some be due, and an insurance bears something."""
    most = _most(entry)
    for key in ("cap", "cover"):
        said = getattr(entry, key)
        if said is not None and not said[0]:
            what = "a cap of nothing" if key == "cap" else "a cover of nothing"
            todo = f"write an amount, or leave {key} out"
            yield on.wrong(("contract", key), what, "an amount above 0", todo=todo)
    if entry.deductible is not None and 0 < most <= entry.deductible[0]:
        held = "cap" if entry.cap else "fee, which dues are held to"
        yield on.wrong(
            ("contract", "deductible"),
            f"a deductible that no loss can exceed: the {held} is {_plainly(most, entry)}",
            f"less than {_plainly(most, entry)}",
            todo="lower the deductible, or raise cap",
        )


def _most(entry: ContractEntry) -> Fraction:
    """What all dues together are held to."""
    return (entry.cap or entry.fee)[0]


def _plainly(amount: Fraction, entry: ContractEntry) -> str:
    return f"{float(amount):,.10g} {entry.fee[1]}".replace(",", " ")


def _never(on: Checked, path: Path, entry: ContractEntry, clause: ClauseEntry) -> Found:
    """A clause can come to be due, and pays something that the cap leaves whole."""
    if clause.over == 1:
        found, allowed = "a clause that is never due: over 100 %", "a share below 100 %"
        yield on.wrong((*path, "over"), found, allowed, todo="write a smaller share, as 99 %")
    for number, (time, pays) in enumerate(steps_of(clause)):
        here = (*path, "steps", number) if clause.steps else path
        worth, most = _worth(entry, pays), _most(entry)
        if ("show",) not in on.left_out and time >= on.file.show.length:
            found, allowed = "a time that no show is longer than", "less than the show"
            yield on.wrong((*here, "for"), found, allowed, todo="write a shorter time, as 30 s")
        if not worth:
            found, todo = "a clause that pays nothing", "say what it pays, or delete it"
            yield on.wrong((*here, "pays"), found, "above 0", todo=todo)
        elif 0 < most < worth:
            held = "cap" if entry.cap else "fee, which dues are held to where no cap is said"
            found = f"more than is ever paid: the {held} is {_plainly(most, entry)}"
            allowed = f"up to {_plainly(most, entry)}"
            yield on.wrong((*here, "pays"), found, allowed, todo="lower it, or raise cap")


def _steps(on: Checked, path: Path, entry: ContractEntry, clause: ClauseEntry) -> Found:
    for number, (before, step) in enumerate(pairwise(clause.steps), 1):
        longer = step.time > before.time
        if not longer or _worth(entry, step.pays) <= _worth(entry, before.pays):
            yield on.wrong(
                (*path, "steps", number),
                f"a step that pays no {'more' if longer else 'later'} than the one before it",
                "longer and dearer from step to step",
                todo="put the steps in order, or delete one",
            )


def _worth(entry: ContractEntry, pays: Pays) -> Fraction:
    """What a step pays, as an amount."""
    return Fraction(pays[0]) if isinstance(pays, tuple) else Fraction(pays) * entry.fee[0]
