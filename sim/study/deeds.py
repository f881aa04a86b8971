"""What kind of step each note of a run is, for a ruler of frames: struck, noticed, switched, back.

In: the inputs of a rig's selectors, and the `Note`s of one run, in order. Out: a kind for each
note.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sim.engine.signal import Note
from sim.rig.topology import Rig, selectors

KINDS = ("struck", "out", "noticed", "switched", "back", "reverted", "other")
"""`out`: something goes out of action, or dark; `reverted`: a changeover to an input that is
preferred to the one left.
"""
PLAIN = {
    "fault": "struck", "action": "struck", "down": "out", "ran out": "out", "lost": "noticed",
    "holdover": "noticed",
    "gate opens": "noticed", "glitch": "switched", "up": "back", "recovered": "back",
    "locked": "back", "repaired": "back", "gate closes": "back",
}  # fmt: skip
MOVES = ("switching", "on")


Inputs = Mapping[str, Sequence[str]]
"""The inputs of each selector, by its name."""


def inputs_of(rig: Rig) -> Inputs:
    return {selector.name: node.inputs for selector, node in selectors(rig)}


def deeds(inputs: Inputs, notes: Iterable[Note]) -> tuple[str, ...]:
    """The kind of every note, as in `KINDS`."""
    fed: dict[str, int] = {}
    found = []
    for note in notes:
        kind = PLAIN.get(note.what, "other")
        if note.what in MOVES and note.detail in inputs.get(note.name, ()):
            chosen = inputs[note.name].index(note.detail)
            kind = "reverted" if chosen < fed.get(note.name, 0) else "switched"
            if note.what == "on":
                fed[note.name] = chosen
        found.append(kind)
    return tuple(found)
