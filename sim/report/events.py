"""What happened in a run, as sentences that a show engineer understands.

In: `Note`s of one run and its `Rig`. Out: frozen `Event`s in order of time; what many like things
did at the same instant is one event with a count.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from sim.engine.signal import Note
from sim.report.words import harmless, plain
from sim.rig.topology import Display, Rig, selectors
from sim.study.strikes import role


@dataclass(frozen=True, slots=True)
class Event:
    """What `count` like things did at `at` (flicks); `names` are theirs, as in the rig, `what` the
    kind of their notes.
    """

    at: int
    text: str
    names: tuple[str, ...]
    what: str = ""

    @property
    def count(self) -> int:
        return len(self.names)


@dataclass(frozen=True, slots=True)
class Run:
    """An event that stands for `more` like ones after it, evenly `every` flicks, `until` the last
    one; `more` 0: it stands for itself.
    """

    event: Event
    more: int = 0
    every: int = 0
    until: int = 0


FEWEST = 5
"""So many like events, evenly apart, are told as one run; the first two stand written out."""


def folded(found: Iterable[Event]) -> tuple[Run, ...]:
    """Events in order, with runs of like ones told once."""
    found = list(found)
    texts: dict[str, list[Event]] = {}
    for event in found:
        texts.setdefault(event.text, []).append(event)
    runs = {id(run.event): run for of in texts.values() for run in _runs(of)}
    return tuple(runs[id(event)] for event in found if id(event) in runs)


def _runs(of: list[Event]) -> Iterator[Run]:
    """Like events in order of time, each written out or the second one of a run."""
    start = 0
    while start < len(of):
        end = start + 1
        while end < len(of) and of[end].at - of[end - 1].at == of[start + 1].at - of[start].at:
            end += 1
        if end - start < FEWEST:
            yield Run(of[start])
            start += 1
            continue
        yield Run(of[start])
        every = of[start + 1].at - of[start].at
        yield Run(of[start + 1], end - start - 2, every, of[end - 1].at)
        start = end


MOST_NAMED = 2
"""So many like things are named."""
HAPPENS: Mapping[str, str] = {
    "down": "{who} went out of action",
    "up": "{who} came into action again",
    "lost": "{who} lost the signal from {from_}; the wait (notice, then hold-off) began",
    "recovered": "{who} got the signal from {from_} back before the wait was over, and stayed",
    "switching": "{who} left the input in use and began to go over to {from_}",
    "on": "{who} took {from_}: the changeover is done",
    "failed": "{who} should have gone over to {from_}, but the changeover failed",
    "gate opens": "{who} saw that nothing reaches the end of its chain, and sent the return signal",
    "gate closes": "{who} saw the end of its chain reached again, and stopped the return signal",
    "locked": "{who} followed its reference again",
    "holdover": "{who} lost its reference and went into holdover: nothing to be seen yet",
    "unlocked at once": "{who} lost its reference and began to drift",
    "unlocked": "{who} had no holdover left and began to drift, off the reference",
    "relocking": "{who} had a reference again and began to lock to it",
    "glitch": "{who} jumped back onto the reference: its output broke off",
    "ran out": "{who} gave up the last picture and went dark",
}
FAULTS: Mapping[str, str] = {
    "cut": "{who} was cut",
    "dead": "{who} failed",
    "blanked": "{who} began to send black, which is a valid signal",
    "stuck": "{who} got stuck on a standing picture, which is a valid signal",
    "corrupt": "{who} began to send a torn picture",
    "stale": "{who} began to send a picture by out-of-date settings",
    "unlocked": "{who} left the reference",
    "drops": "{who} dropped frames",
    "flapping": "{who} began to come and go",
    "attenuated": "{who} lost light",
    "tripped": "{who} tripped",
    "restart": "{who} restarted",
    "moved": "{who} was set wrongly by somebody",
}
ENDS: Mapping[str, str] = {
    "tripped": "{who} was switched on again",
    "moved": "{who} was set right",
    "drops": "{who} sent all frames again",
    "flapping": "{who} stopped coming and going",
}
ACTIONS: Mapping[str, str] = {
    "choose": "somebody chose an input of {who}",
    "lock": "somebody locked {who}",
    "unlock": "somebody unlocked {who}",
    "take": "somebody took an arrangement on {who}",
}


def events(rig: Rig, notes: Iterable[Note]) -> tuple[Event, ...]:
    """All notes as events, like ones of one instant together."""
    return Teller(rig).events(notes)


def _without_holdover(notes: list[Note]) -> Iterator[Note]:
    """Where there is no holdover, losing the reference and drifting are one event."""
    both = {(note.at, note.name) for note in notes if note.what == "unlocked"}
    both &= {(note.at, note.name) for note in notes if note.what == "holdover"}
    for note in notes:
        if (note.at, note.name) not in both or note.what not in ("holdover", "unlocked"):
            yield note
        elif note.what == "unlocked":
            yield replace(note, what="unlocked at once")


class Teller:
    """Knows what the names of a rig mean; made once for all runs of it."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.screens = {s.name for s, node in selectors(rig) if isinstance(node, Display)}
        self.screens |= {name for name, node in rig.nodes.items() if isinstance(node, Display)}
        self.groups = {thing.name: thing.group for thing in rig.things.values()}

    def events(self, notes: Iterable[Note]) -> tuple[Event, ...]:
        """What `events` gives."""
        alike: dict[tuple[object, ...], list[Note]] = {}
        for note in _without_holdover([*notes]):
            alike.setdefault(self.key(note), []).append(note)
        return tuple(
            Event(of[0].at, self.sentence(of), tuple(note.name for note in of), of[0].what)
            for of in alike.values()
        )

    def key(self, note: Note) -> tuple[object, ...]:
        return note.at, note.what, self._role(note.name), self._from(note)

    def sentence(self, notes: list[Note]) -> str:
        first = notes[0]
        form = _form(first)
        return form.format(who=self._who(notes), from_=self._from(first) or "its input")

    def _who(self, notes: list[Note]) -> str:
        name = notes[0].name
        if len(notes) > 1:
            things = dict.fromkeys(harmless(note.name.partition("#")[0]) for note in notes)
            which = f" ({', '.join(things)})" if len(things) <= MOST_NAMED else ""
            return f"{len(notes)} x {plain(self._role(name))}{which}"
        return plain(name.removesuffix("#screen") if name in self.screens else name)

    def _role(self, name: str) -> str:
        thing = name.partition("#")[0]
        node = self.rig.nodes.get(name)
        group = self.groups.get(node.thing if node else thing, "")
        return role(name.removesuffix("#screen") if name in self.screens else name, group)

    def _from(self, note: Note) -> str:
        """The input concerned; for a receiver which way the signal comes."""
        if note.name in self.screens and note.detail:
            return "the return way" if note.detail.endswith("<") else "the forward way"
        return plain(note.detail) if note.what in HAPPENS and note.detail else ""


def _form(note: Note) -> str:
    if note.what == "fault":
        return FAULTS.get(note.detail, "{who}: " + harmless(note.detail))
    if note.what == "repaired":
        return ENDS.get(note.detail, "{who} was repaired")
    if note.what == "action":
        return ACTIONS.get(note.detail, "{who}: " + harmless(note.detail))
    return HAPPENS.get(note.what, "{who}: " + harmless(note.what))
