"""Topologies of a group side by side: their properties as rows, the topologies as columns.

In: a frozen `Comparison`. Out: a table, and the label of a topology as tables have it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sim.limits.findings import first_few
from sim.report.blocks import Table
from sim.report.lead import in_all
from sim.report.rowtext import NO_BOUND, by_role, frame_words, instead, title, worst_words
from sim.report.words import (
    counted,
    harmless,
    listed,
    plain,
    share,
    struck_words,
    supplier_words,
)
from sim.study.promises import NOT, OPEN, PERHAPS, Verdict
from sim.study.rows import FaultRow
from sim.study.strikes import Strike
from sim.study.study import Comparison, VariantStudy

FEW = 6
"""So many names are written out in a cell; JSON and CSV have all."""


def label(study: VariantStudy) -> str:
    """Its label, with the one offered marked."""
    return harmless(study.variant.label) + (" (offered)" if study.variant.offered else "")


def details(one: Comparison) -> Table:
    """Properties of the topologies that can be built."""
    numbers = [i for i, study in enumerate(one.studies) if study.can_be_built]
    built = one.studies
    shared = {row.name for valid in (False, True) for row in in_all(one.buildable, valid)}
    makers: tuple[tuple[str, Callable[[int], str]], ...] = (
        ("extra units", lambda i: _extra_units(one, i)),
        ("worst blink", lambda i: worst_blink(one.studies[i].worst_blink)),
        ("worst lasting area, by whose item fails", lambda i: worst_lasting(one.studies[i])),
        ("takes the whole picture: nothing arrives", lambda i: _spoilers(built[i], False, shared)),
        (
            "takes the whole picture: a valid signal arrives",
            lambda i: _spoilers(built[i], True, shared),
        ),
        ("latent", lambda i: worst_latent(one.studies[i])),
        ("limits", lambda i: limit_lines(one.studies[i])),
    )
    head = ("", *(f"{i + 1} {label(one.studies[i])}" for i in numbers))
    rows = tuple((name, *(make(i) for i in numbers)) for name, make in makers)
    return Table(head, rows, least=22, ruled=True)


def _extra_units(one: Comparison, number: int) -> str:
    extra = one.extras[number]
    if not extra:
        return "none"
    return "\n".join(f"{count:+} {harmless(kit)}" for kit, count in extra.items())


def worst_blink(row: FaultRow | None) -> str:
    """The worst blink: frames, area, the fault."""
    if row is None:
        return "none"
    notes = [note for note in (row.grade, NO_BOUND if row.races else "") if note]
    said = f" ({', '.join(notes)})" if notes else ""
    return f"{frame_words(row)}{said}\n{share(row.ever[1])} of the group\n{title(row)}"


def worst_lasting(study: VariantStudy) -> str:
    """The worst that lasts, a line for each supplier whose item fails."""
    worst = study.worst_lasting
    parts = [f"{supplier_words(s)}: {worst_words(r)}, {title(r)}" for s, r in worst.items()]
    return "\n".join(parts) or "none"


def _spoilers(study: VariantStudy, valid: bool, shared: set[str]) -> str:
    """What is in all of them is said once, below the table."""
    own = [row for row in study.spoilers(valid) if row.name not in shared]
    some = "only what is listed below" if len(own) < len(study.spoilers(valid)) else "nothing"
    return first_few(by_role(own), FEW, "\n") if own else some


def worst_latent(study: VariantStudy) -> str:
    """How many are latent, and the worst of them with what it needs."""
    worst = study.worst_latent
    if worst is None:
        return "none"
    second = _named(worst.second) if worst.second != worst.name else "a second one"
    return (
        f"{study.latent_count}; for one, {_named(worst.name)} goes unseen, and {second} then "
        f"costs {instead(worst.together_states, worst.alone_states)}"
    )


def _named(name: str) -> str:
    """A row's name (role, mode) in plain words."""
    before, _, mode = name.rpartition(" ")
    if " moved to " in name:
        before, _, mode = name.partition(" moved to ")
        return f"{plain(before)} moved to {plain(mode)}"
    return f"{plain(before)} {mode}"


def limit_lines(study: VariantStudy) -> str:
    """A line for each stated limit, with what breaks it."""
    return "\n".join(_verdict(i, v) for i, v in enumerate(study.verdicts, 1)) or "none stated"


def _verdict(number: int, verdict: Verdict) -> str:
    words = f"limit {number} {verdict.verdict}"
    if verdict.verdict == NOT:
        more = counted(len(verdict.suspects), "more fault")
        doubt = f"; {more} may break it" if verdict.suspects else ""
        verb = "breaks" if len(verdict.breakers) == 1 else "break"
        return f"{words}: {_faults(verdict.breakers)} {verb} it{doubt}"
    if verdict.verdict == PERHAPS:
        return f"{words}: {_faults(verdict.suspects)} may break it"
    return f"{words}: double faults, see `faults --pairs`" if verdict.verdict == OPEN else words


def _faults(strikes: Sequence[Strike]) -> str:
    """`107 faults (of unit-a, relay-main and 5 more kinds of thing)`."""
    kinds = list(dict.fromkeys(struck_words(each.role, each.mode) for each in strikes))
    more = len(kinds) - 2
    kind = "kind" if more == 1 else "kinds"
    names = listed(kinds) if more < 1 else f"{', '.join(kinds[:2])} and {more} more {kind} of thing"
    return f"{counted(len(strikes), 'fault')} (of {names})"
