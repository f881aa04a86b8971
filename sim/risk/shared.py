"""One cause that strikes several things: a share of a kind's failures, or what the terms name.

In: a `Show`, its single strikes. Out: `Hazard`s, each with the names of the strikes that lose its
mass to it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fnmatch import fnmatchcase
from math import log1p

from sim.rig.placeholders import Rate, doubt
from sim.rig.rates import in_show
from sim.rig.terms import PLACEHOLDER, Together
from sim.rig.topology import Thing
from sim.risk.striking import SHARED, Hazard, Show, counts, made_of
from sim.study.strikes import Strike


def shared(show: Show, found: tuple[Strike, ...]) -> Iterator[tuple[Hazard, tuple[str, ...]]]:
    """Shared causes, each with the names of the strikes that lose its mass."""
    named = Counter[str]()
    for together in show.terms.together:
        named[together.name] += 1
        again = f" ({named[together.name]})" if named[together.name] > 1 else ""
        cause = replace(together, name=f"{together.name}{again}")
        if cause.share:
            yield from _shares(show, cause, found)
        if cause.per_show:
            yield from ((hazard, ()) for hazard in _named(cause, found))


def _shares(
    show: Show, cause: Together, found: tuple[Strike, ...]
) -> Iterator[tuple[Hazard, tuple[str, ...]]]:
    """A share of a kind's failures (beta factor, IEC 61508-6) strikes all things of it at once.

    They do so at the rate of one thing times the share, however many there are, and each thing
    keeps its own total: for two things the standard's model; for more it says that one cause that
    strikes two strikes all. Where rates differ, the share is one of the least.
    """
    kinds: dict[str, list[Strike]] = {}
    for strike in found:
        thing = show.rig.things.get(strike.where)
        if strike.mode == cause.mode and strike.law and thing and _concerns(cause, thing):
            kinds.setdefault(thing.kit or thing.family, []).append(strike)
    for kind, alike in kinds.items():
        if len(alike) < 2:
            continue
        laws = [strike.law for strike in alike if strike.law]
        law = min(laws, key=lambda law: in_show(law, show.hours))
        if not counts(show, law):
            continue
        key = f"{cause.name}: every {kind} {cause.mode}"
        struck = _at_once(f"every {kind}", cause.mode, alike)
        made = made_of(key, (struck,), cause.share * in_show(law, show.hours), law, SHARED)
        guessed = made.guessed or cause.source.startswith(PLACEHOLDER)
        made = replace(made, guessed=guessed, shape=law.shape, age=law.age, lasts=cause.lasts)
        yield made, tuple(strike.name for strike in alike)


def _concerns(cause: Together, thing: Thing) -> bool:
    if cause.things and not any(fnmatchcase(thing.name, each) for each in cause.things):
        return False
    return cause.kit in ("", thing.kit) and cause.family in ("", thing.family)


def _named(cause: Together, found: tuple[Strike, ...]) -> Iterator[Hazard]:
    """Named things, or all on a named route, struck together with a chance in one show."""
    struck = [
        strike
        for strike in found
        if strike.mode == cause.mode
        and any(fnmatchcase(strike.where, each) for each in cause.things)
    ]
    if struck:
        known = not cause.source.startswith(PLACEHOLDER)
        rate = Rate(cause.per_show, doubt(cause.source), cause.source, known)
        key = f"{cause.name}: {cause.mode}"
        once = _at_once(cause.name, cause.mode, struck)
        made = made_of(key, (once,), cause.mean or -log1p(-cause.per_show), rate, SHARED)
        yield replace(made, lasts=cause.lasts)


def _at_once(where: str, mode: str, struck: Iterable[Strike]) -> Strike:
    """Several strikes as one; what two of them strike is struck once."""
    of = tuple(struck)
    groups = {strike.group for strike in of}
    faults = {fault.thing: fault for strike in of for fault in strike.faults}
    return Strike(
        where=where,
        mode=mode,
        faults=tuple(faults.values()),
        role=where,
        group=groups.pop() if len(groups) == 1 else "",
        supplier=", ".join(sorted({strike.supplier for strike in of if strike.supplier})),
    )
