"""What a person sees and hears in a drill: `symptoms`, and what things say when they are asked.

In: a `Course`'s rig as it stands. Out: `Symptoms`, and reports in sentences that say no more than
they prove.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sim.engine.live import Live
from sim.practice.desk import UNITS, Desk
from sim.practice.moments import moment_of
from sim.practice.symptoms import Report, Symptoms, looked_at, symptoms
from sim.rig.topology import Thing

PLAIN = ("source", "reference", "distributor", "circuit")
"""What can be asked besides units, ports and links: whether it is on."""


def seen(live: Live, desk: Desk, at: int) -> Symptoms:
    """All that shows at a flick that was reached."""
    return symptoms(desk, moment_of(live.run, desk, at))


def report(live: Live, desk: Desk, thing: Thing, at: int, near: bool) -> str:
    """What a thing says of itself to somebody who stands before it (`near`), or at the desk."""
    moment = moment_of(live.run, desk, at)
    unit = unit_of(desk, thing.name)
    found = symptoms(desk, moment).reports
    if near and live.run.wiring.rig.things[unit].family in UNITS:
        found = looked_at(desk, moment, unit)
    said = [r for r in found if thing.name in (r.name, r.unit)]
    if said:
        return "; ".join(map(_said, said))
    if near and thing.family in PLAIN:
        return f"{thing.family} {thing.name}: {'on' if live.is_up(thing.name) else 'off'}"
    return f"{thing.name} tells nothing by itself"


def unit_of(desk: Desk, name: str) -> str:
    """The unit that tells of a thing: of a port its unit, else the thing itself."""
    return next((port.unit for port in desk.ports if port.name == name), name)


def _said(each: Report) -> str:
    return f"{each.text} ({each.proves})"


def reports_at(live: Live, desk: Desk, places: Mapping[str, str], at: int) -> Iterator[str]:
    """What the things say that stand at a place; `places`: those of things that are meant."""
    rig = live.run.wiring.rig
    asked = (rig.things[name] for name in places if rig.things[name].family in (*UNITS, *PLAIN))
    for thing in asked:
        if thing.family in UNITS:
            yield from _short(live, desk, thing, at)
        else:
            yield report(live, desk, thing, at, near=True)


def _short(live: Live, desk: Desk, thing: Thing, at: int) -> Iterator[str]:
    """The report of a unit, but only what is not yes."""
    unit, *rest = looked_at(desk, moment_of(live.run, desk, at), thing.name)
    yield unit.text
    yield from (each.text for each in rest if each.says not in ("yes", "unknown"))
