"""One topology ready for show after show: what each show comes to.

In: a `Scenes`, a `Gauge`, what is asked (`Value`s), shows drawn for a `Union` of hazards. Out: rows
(see `stretches`) and tables of values, one line for each show, in their order.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from sim.rig.terms import Terms
from sim.risk.alone import rows_alone
from sim.risk.onset import onset_of
from sim.risk.scenes import Scenes, Struck
from sim.risk.shows import Blow, Show, Union, name_of
from sim.risk.single import Single, already, closed, single
from sim.risk.streams import Floats
from sim.risk.stretches import Gauge, Row, added, measured, parts_of
from sim.risk.values import Value, table

Endings = Callable[[Sequence[Struck], Sequence[Blow]], Sequence[Struck]]
"""When what struck is mended: the same strikes with their ends."""
Place = Callable[[int, float], int]
"""The flick at which a hazard (by number) strikes for a uniform number."""


@dataclass(frozen=True)
class Field:
    """`local`: for each hazard of the union its number here, or -1 where the topology has no such
    hazard; `mends`: whether anything is mended during a show.
    """

    label: str
    scenes: Scenes
    gauge: Gauge
    values: tuple[Value, ...]
    terms: Terms
    local: tuple[int, ...]
    place: Place
    endings: Endings
    mends: bool = False
    singles: dict[int, Single] = field(default_factory=dict)

    # ---- one fault, exactly

    def exact(self, hazard: int) -> Single | None:
        """A hazard of the union by itself, or None where that has no closed form: where something
        mends it, or it ends of itself.
        """
        number = self.local[hazard]
        of = self.scenes.hazards[number]
        if self.mends or of.lasts is not None:
            return None
        if hazard not in self.singles:
            made, onset = self.scenes.alone(number), onset_of(of, self.gauge.length)
            if not closed(made, self.gauge, onset):
                return None
            asked = made, self.gauge, self.values, self.terms.contract
            self.singles[hazard] = already(*asked) if of.early else single(*asked, onset)
        return self.singles[hazard]

    # ---- shows

    def rows(self, shows: Sequence[Show]) -> Floats:
        """What each show comes to."""
        found = np.zeros((len(shows), self.gauge.size))
        singles: dict[int, list[tuple[int, Struck]]] = {}
        for number, show in enumerate(shows):
            struck = self.scenes.essential(self.struck(show))
            if len(struck) == 1 and self._simple(struck[0]):
                singles.setdefault(struck[0].hazard, []).append((number, struck[0]))
            elif struck and not (len(struck) == 1 and self.scenes.silent(struck[0].hazard)):
                found[number] = self.row(struck)
        for hazard, each in singles.items():
            found[[number for number, _ in each]] = self._alike(hazard, [one for _, one in each])
        return found

    def struck(self, show: Show) -> Sequence[Struck]:
        """What a show strikes here, with when it is mended."""
        known = [(blow, self.local[blow.hazard]) for blow in show if self.local[blow.hazard] >= 0]
        struck = [Struck(number, self._begin(number, blow)) for blow, number in known]
        return self.endings(struck, [blow for blow, _ in known])

    def _begin(self, number: int, blow: Blow) -> int:
        return -1 if self.scenes.hazards[number].early else self.place(number, blow.draws[0])

    def row(self, struck: Sequence[Struck]) -> Row:
        """One show."""
        pieces = self.scenes.pieces(struck)
        return measured(added([parts_of(each, self.gauge) for each in pieces]), self.gauge)

    def _simple(self, one: Struck) -> bool:
        """Whether many such shows can be worked out at once."""
        if not self.scenes.concerned[one.hazard] or self.scenes.hazards[one.hazard].failing:
            return False
        made = self.scenes.alone(one.hazard)
        if made.repeat is not None or one.begin < 0:
            return False
        return one.end is None or one.end - one.begin > made.settled

    def _alike(self, hazard: int, struck: Sequence[Struck]) -> Floats:
        never = self.gauge.length + 1
        begin = np.array([one.begin for one in struck], dtype=np.int64)
        end = np.array([never if one.end is None else one.end for one in struck], dtype=np.int64)
        after = self.scenes.mended(hazard) if (end < never).any() else None
        return rows_alone(self.scenes.alone(hazard), after, begin, end, self.gauge)

    def table(self, rows: Floats) -> Floats:
        return table(rows, self.values, self.gauge, self.terms.contract)


def localised(union: Union, scenes: Scenes) -> tuple[int, ...]:
    """For each hazard of the union its number in these scenes, or -1."""
    places: Mapping[tuple[str, float], int] = {
        name_of(hazard): number for number, hazard in enumerate(scenes.hazards)
    }
    return tuple(places.get(name_of(hazard), -1) for hazard in union.hazards)
