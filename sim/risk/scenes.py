"""What several faults in one show make of a wall group, by the engine, remembered where it can be.

In: a `Rig`, the name of a group, its `Hazard`s. Out: for the events of a show (which hazard, from
when, until when; flicks) the pieces of each unrelated part of it. Faults that cannot matter to each
other are worked out alone and their areas added; others are played by the engine one after the
other: once for all that look alike where each has settled before the next begins, else as they
come.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sim.rig.terms import Terms
from sim.rig.topology import Rig, corner
from sim.risk.channels import Asked, asked, mark_moving
from sim.risk.events import Piece, Struck, Tale, apart
from sim.risk.hazards import Hazard
from sim.risk.profile import Profile
from sim.risk.related import Related
from sim.risk.telling import Telling
from sim.study.effects import Canvas
from sim.study.laboratory import Laboratory
from sim.study.strikes import Strike

__all__ = ["Piece", "Scenes", "Struck", "Tale"]


class Scenes:
    """One rig, ready for show after show; it remembers what it has worked out."""

    def __init__(
        self,
        rig: Rig,
        group: str,
        hazards: Sequence[Hazard],
        terms: Terms,
        values: Mapping[str, int] | None = None,
    ) -> None:
        """`values`: one in flicks for each timing; None: all typical."""
        long = replace(rig, length=rig.length * 4)
        given = {"typical": values or corner(rig, "typical")}
        canvas = Canvas(long, long.groups[group])
        mark_moving(canvas, rig.groups[group], terms.moving.get(group))
        self.laboratory = Laboratory(long, group, given, canvas)
        views = [name for name in self.laboratory.pieces if name in rig.groups[group].audience]
        self.asked: Asked = asked(self.laboratory.canvas, terms, views)
        self.hazards = tuple(hazards)
        self.telling = Telling(self.laboratory, self.hazards, self.asked)
        self.strikes = self.telling.strikes
        pairs = zip(self.hazards, self.strikes, strict=True)
        self.concerned = [bool(h.failing) or self._concerns(s) for h, s in pairs]
        self.related = Related(self.telling, self.concerned)

    def _concerns(self, strike: Strike) -> bool:
        return bool(strike.faults) and self.laboratory.concerns(strike)

    # ---- one hazard

    def alone(self, hazard: int) -> Profile:
        """What a hazard does by itself, never mended."""
        return self.telling.alone(hazard)

    def mended(self, hazard: int) -> Profile:
        """What its end adds when it had settled, from its end on."""
        return self.telling.mended(hazard)

    def silent(self, hazard: int) -> bool:
        """Whether a hazard by itself changes nothing, from first to last and after its end."""
        return self.related.silent(hazard)

    # ---- several

    def pieces(self, events: Sequence[Struck]) -> list[list[Piece]]:
        """The pieces of each unrelated part of a show; what shows nothing is left out."""
        known = apart(each for each in events if self.concerned[each.hazard])
        played = [self.telling.played(part) for part in self.related.parts(known)]
        return [pieces for pieces in played if not all(made.blank for _, made in pieces)]

    def essential(self, events: Sequence[Struck]) -> Sequence[Struck]:
        """The events without those that show nothing and can matter to no other; all of them where
        several others may do something together that each of them does not.
        """
        if len(events) < 2:
            return events
        silent = [each for each in events if self.silent(each.hazard)]
        if not silent:
            return events
        known = [each for each in events if self.concerned[each.hazard]]
        idle = [
            one
            for one in silent
            if not any(self.related.meet(one, other) for other in known if other is not one)
        ]
        several = len(known) - len(idle) > 1
        return events if several else [each for each in events if each not in idle]
