"""What is already wrong when the show starts: from load-in, since the last test, or on demand.

In: a `Show`, its single strikes. Out: early `Hazard`s. What is seen or told of is mostly found at
the line check; what nobody sees or monitors stays so until it is tested.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fnmatch import fnmatchcase
from math import log1p

from sim.faults import (
    CABLES,
    CHANGEOVER,
    NEVER_BEFORE,
    PATCH_ERROR,
    PICTURE_CABLES,
    SWITCHED_ON,
    Fault,
)
from sim.rig.cuts import cut_rates
from sim.rig.placeholders import CHANCES, TESTED_TODAY, Rate, doubt
from sim.rig.rates import Subject, expected, rate_of, stated
from sim.rig.terms import PLACEHOLDER, Terms, Tested
from sim.rig.topology import Gate, Rig, Thing, selectors
from sim.risk.striking import Hazard, Show, counts, made_of
from sim.study.strikes import HOUR, VALID, Strike, role

SAME_DAY = 24 * HOUR
"""In flicks: what was tested so short a time before the show was tested after load-in."""
TOLD = frozenset({"attenuated", "unlocked"})
"""Modes with a valid signal that monitoring tells all the same; of the others it sees a link."""


def at_load_in(show: Show, found: Iterable[Strike]) -> Iterator[Hazard]:
    """What went wrong at a load-in, a mating or a power-up, and was not found at the line check."""
    cuts = cut_rates(show.rig, "load-in")
    for strike in found:
        if strike.of is None or strike.mode in NEVER_BEFORE:
            continue
        for per, times in _occasions(show.rig, strike.where):
            rate = rate_of(show.rig.rates, strike.of, strike.mode, per)
            if (strike.mode, per) == ("cut", "load-in"):
                rate = cuts.get(strike.where, rate)
            if rate is not None and counts(show, rate):
                chance = (1 - (1 - rate.value) ** times) * _left(show, strike)
                key = f"{strike.name}, {per}"
                made = made_of(key, (strike,), -log1p(-chance), rate, "load-in")
                yield replace(made, early=True)


def _occasions(rig: Rig, where: str) -> Iterator[tuple[str, int]]:
    """The occasions of a thing or route before a show, and how many of each it has."""
    yield "load-in", 1
    thing = rig.things.get(where)
    if thing is not None and thing.family in CABLES:
        yield "mating", 2
    if thing is not None and thing.family in SWITCHED_ON:
        yield "power-up", 1


def patched(show: Show) -> Iterator[Hazard]:
    """Each cable that carries pictures, plugged into the wrong place: what it brings is wrong."""
    for thing in show.rig.things.values():
        if thing.family not in PICTURE_CABLES:
            continue
        strike = _strike(thing, PATCH_ERROR, (Fault(thing.name, "stale", 0),))
        rate = _patch_rate(show, thing)
        if not counts(show, rate):
            continue
        chance = rate.value * _left(show, strike)
        made = made_of(strike.name, (strike,), -log1p(-chance), rate, "load-in")
        yield replace(made, early=True)


def _strike(thing: Thing, mode: str, faults: tuple[Fault, ...]) -> Strike:
    """A strike that the catalogue of single faults does not have."""
    part = role(thing.name, thing.group)
    return Strike(thing.name, mode, faults, part, thing.group, thing.supplier)


def _patch_rate(show: Show, cable: Thing) -> Rate:
    """As stated for the cable, else as for the whole show."""
    of = Subject(cable.name, cable.family, cable.kit, cable.length)
    terms, per = show.terms, "load-in"
    known = not terms.patch_source.startswith(PLACEHOLDER)
    own = stated(show.rig.rates, of, PATCH_ERROR, per)
    return own or Rate(terms.patch_error, doubt(terms.patch_source), terms.patch_source, known, per)


def _left(show: Show, strike: Strike) -> float:
    """The chance that the line check before the show leaves it: 1 for what nobody sees, is told
    of, or has tested since.
    """
    tested = _tested(show.terms, strike.struck)
    today = tested is not None and tested.before is not None and tested.before <= SAME_DAY
    if show.unseen(strike) and not _told(show.rig, strike) and not today:
        return 1.0
    return 1 - show.terms.patch_caught


def _told(rig: Rig, strike: Strike) -> bool:
    """Whether somebody is told of it: something struck is monitored, and what is wrong is not a
    picture that arrives as it should.
    """
    if strike.mode == PATCH_ERROR or (strike.mode in VALID and strike.mode not in TOLD):
        return False
    return any(rig.things[name].monitored for name in strike.struck if name in rig.things)


def _tested(terms: Terms, names: Iterable[str]) -> Tested | None:
    """What is said of when these were last tested: of the first pattern that matches one."""
    of = tuple(names)
    fits = (t for t in terms.tested if any(fnmatchcase(name, t.things) for name in of))
    return next(fits, None)


DORMANT = frozenset({"dead", "cut", "stale", "tripped"})
"""What may have been so for long; all else would show, end of itself, or end with the power."""


def never_tested(show: Show, found: Iterable[Strike]) -> Iterator[Hazard]:
    """What nobody sees or is told of may be dead or stale since it was last tested."""
    for strike in found:
        law = strike.law
        if law is None or strike.mode not in DORMANT or _told(show.rig, strike):
            continue
        if not show.unseen(strike):
            continue
        tested, hours = _tested(show.terms, strike.struck), show.terms.age_untested
        if show.terms.stated_only and (tested is None or not counts(show, law)):
            continue
        if tested is not None and tested.before is not None:
            hours = tested.before / HOUR
        begin = max(0.0, law.age - hours) if law.shape != 1 else law.age - hours
        mass = expected(law, begin, law.age)
        made = made_of(f"{strike.name}, never tested", (strike,), mass, law, "never tested")
        yield replace(made, early=True)


def on_demand(show: Show) -> Iterator[Hazard]:
    """Each selector that changes over by itself, failing to do so all night; and each unit whose
    gated returns never open: the ports behind them are as dead.
    """
    for selector, node in selectors(show.rig):
        by_itself = selector.restore in ("revertive", "non-revertive") and len(node.inputs) > 1
        thing = show.rig.things[node.thing]
        rate = _changeover(show, selector.name, thing) if by_itself else None
        if rate is not None and counts(show, rate):
            key = f"{selector.name} {CHANGEOVER}"
            made = made_of(key, (), -log1p(-rate.value), rate, "on demand")
            yield replace(made, early=True, failing=(selector.name,))
    for name, faults in _gated(show.rig).items():
        thing = show.rig.things[name]
        rate = _changeover(show, name, thing)
        if rate is not None and counts(show, rate):
            strike = _strike(thing, CHANGEOVER, faults)
            key = f"{name} returns {CHANGEOVER}"
            made = made_of(key, (strike,), -log1p(-rate.value), rate, "on demand")
            yield replace(made, early=True)


def _gated(rig: Rig) -> dict[str, tuple[Fault, ...]]:
    """By unit or relay: its gated returns never opening, as faults of the ports they send to."""
    gates = {node.name: node.thing for node in rig.nodes.values() if isinstance(node, Gate)}
    found: dict[str, dict[str, Fault]] = {}
    for node in rig.nodes.values():
        for above in (name for name in node.inputs if name in gates):
            found.setdefault(gates[above], {})[node.thing] = Fault(node.thing, "dead", 0)
    return {name: tuple(faults.values()) for name, faults in found.items()}


def _changeover(show: Show, name: str, thing: Thing) -> Rate | None:
    """The chance on demand, as stated for the selector of this name or its thing; else a
    placeholder, a better one if it was tested the same day, none for receivers.
    """
    names = Subject(name, "selector"), Subject(thing.name, thing.family, thing.kit)
    for of in names:
        own = stated(show.rig.rates, of, CHANGEOVER, CHANGEOVER)
        if own is not None:
            return own
    shipped = CHANCES.get((thing.family, CHANGEOVER, CHANGEOVER))
    tested = _tested(show.terms, (name, thing.name))
    today = tested is not None and tested.before is not None and tested.before <= SAME_DAY
    return TESTED_TODAY if shipped and today else shipped
