"""What a run comes to, told by kinds, so that it serves for all that behaves alike.

In: a `Trace`, faults. Out: a frozen `Settled`, and what two lists of faults have in common.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

from sim.engine.signal import Signal, Trace
from sim.engine.symmetry import Cone, Reach
from sim.engine.wiring import Wiring
from sim.faults import Fault
from sim.rig.topology import Emit
from sim.study.effects import Key, Share
from sim.study.mirrors import Together
from sim.timebase import FOREVER


@dataclass(frozen=True, slots=True)
class Cast:
    """What can notice a strike; `sign` is equal where these parts are alike."""

    struck: tuple[str, ...]
    part: Reach
    sign: int


MOST_JOINT = 1_000_000
"""Nodes of parts that notice several things at once, as many as are kept (some 50 bytes each)."""


class Casts(dict[tuple[str, ...], Cast]):
    """Casts by what is struck; of things struck together only so much is kept at a time."""

    def __init__(self) -> None:
        super().__init__()
        self.joint = 0

    def keep(self, cast: Cast) -> None:
        """Keep one more."""
        if len(cast.struck) > 1:
            self.joint += len(cast.part.nodes)
            if self.joint > MOST_JOINT:
                self.forget({struck for struck in self if len(struck) < 2})
                self.joint = len(cast.part.nodes)
        self[cast.struck] = cast

    def forget(self, all_but: Container[tuple[str, ...]]) -> None:
        """Keep only these."""
        for struck in [each for each in self if each not in all_but]:
            del self[struck]


@dataclass(frozen=True, slots=True)
class Spread:
    """How much of the walls shows which kind of cabinet and stack: of those that can notice a
    strike, of all others (`elsewhere`, where pictures may change under them), and `together`, for
    each set of walls that are looked at together, by the kinds that show the same pixels.

    `alike` is equal where all of that is.
    """

    shares: Mapping[Key, Share]
    elsewhere: Mapping[Key, Share]
    together: Mapping[str, Together]
    alike: int


@dataclass(frozen=True, slots=True)
class Settled:
    """What a run comes to: by kind the signals of cabinets, the nodes that send otherwise at the
    end, that choose otherwise, that ever sent or took something else, the number of inputs that
    selectors looked at; the timers left; the part of the rig that ran. `number` tells it from
    others.
    """

    number: int
    trace: Trace
    shown: Mapping[int, Sequence[tuple[int, Signal]]]
    pending: tuple[str, ...]
    otherwise: frozenset[int]
    chose: frozenset[int]
    altered: frozenset[int]
    took: frozenset[int]
    examined: Mapping[int, int]
    part: Reach
    drops: tuple[int, int] | None


def what(faults: Sequence[Fault]) -> tuple[Key, ...]:
    """All of the faults but the names of what they strike; which of them strike the same thing."""
    if len(faults) == 1:
        return ((*_how(faults[0]), 0),)
    first: dict[str, int] = {}
    places = [first.setdefault(fault.thing, place) for place, fault in enumerate(faults)]
    return tuple([(*_how(fault), place) for fault, place in zip(faults, places, strict=True)])


def _how(f: Fault) -> Key:
    return (f.mode, f.at, f.until, f.hard, f.choice, f.period, f.off, f.loss, f.frames)


def drops_of(wiring: Wiring, faults: Sequence[Fault]) -> tuple[int, int] | None:
    """The frame (flicks) of the source and the number lost, if that is all that happens."""
    if len(faults) != 1 or faults[0].mode != "drops":
        return None
    node = wiring.nodes[wiring.nodes_of[wiring.thing_number[faults[0].thing]][0]]
    return (node.frame, faults[0].frames) if isinstance(node, Emit) else None


def pending(trace: Trace) -> tuple[str, ...]:
    """The timers that had not run out when the show ended (none where the rig repeats itself)."""
    late = [note for note in trace.pending if note.at >= trace.until and note.at < FOREVER]
    return tuple(note.name for note in late) if trace.repeat is None else ()


def read_out(
    wiring: Wiring, cast: Cast, cone: Cone, trace: Trace, faults: Sequence[Fault], number: int = -1
) -> Settled:
    """What a run on a part of the rig comes to."""
    part, cabinets = cast.part, wiring.cabinets
    return Settled(
        number=number,
        trace=trace,
        shown={k: trace.shown[cabinets[c]] for k, c in cone.twin.items()},
        pending=pending(trace),
        otherwise=frozenset(part.nodes[n] for n in trace.otherwise),
        chose=frozenset(part.nodes[n] for n in trace.chose),
        altered=frozenset(part.nodes[n] for n in trace.altered),
        took=frozenset(part.nodes[n] for n in trace.took),
        examined={part.nodes[n]: count for n, count in trace.examined.items()},
        part=part,
        drops=drops_of(wiring, faults),
    )
