"""What single faults do if nobody acts: what recovers alone, within how many frames, what it costs.

In: a `Laboratory` for each wall group, `Cause`s. Out: frozen `Aftermath`s. Frames are least and
most over the phase and the ranges of all timings, as `compare` and `inject` count them; damage is
in wall-seconds not lit that a show is expected to lose by one strike (the whole of all walls for a
second is one), and is a float.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sim.faults import Quality
from sim.practice.causes import Cause
from sim.risk.striking import Hazard, strike_at
from sim.study.effects import Effect
from sim.study.laboratory import Laboratory
from sim.study.outcome import CORNERS
from sim.study.readings import Reading, mean_time
from sim.study.rows import flashes_of
from sim.timebase import FLICKS

LIT = 5
"""The number of a reading's state that is lit."""
UNLIT = Quality.GOOD - 1
MOST_FLASHES = 3
"""In a second (ITU-R BT.1702, WCAG 2.3.1)."""


@dataclass(frozen=True, slots=True)
class Aftermath:
    """`recovers`: frames not lit of the cell that is so longest among those that are lit again
    (None: none is ever not lit and lit again); `lasts`: whether any cell is not lit once settled;
    `raced`: two protections race, so that
    frames may lie outside; `flashes`: a quarter of a group or more flashes more than three times
    in a second.
    """

    recovers: tuple[int, int] | None
    lasts: bool
    damage: float
    raced: bool = False
    flashes: bool = False


class Aftermaths:
    """The laboratories of a rig; remembers what each effect comes to."""

    def __init__(self, laboratories: Sequence[Laboratory]) -> None:
        self.laboratories = laboratories
        self.area = sum(laboratory.canvas.area for laboratory in laboratories)
        self.known: dict[int, tuple[Effect, tuple[int, int] | None, float]] = {}

    def of(self, cause: Cause) -> Aftermath:
        """What one fault does by itself."""
        hazard = cause.hazards[0]
        found = [made for lab in self.laboratories for made in self._effects(lab, hazard)]
        effects = [effect for effect, _ in found]
        spans = [span for which in CORNERS for span in self._again(found, which)]
        typical = [self._read(effect) for effect, which in found if which == "typical"]
        return Aftermath(
            recovers=widest(spans) if any(most for _, most in spans) else None,
            lasts=any(effect.lasts for effect in effects),
            damage=sum(damage for _, _, damage in typical) / self.area / FLICKS,
            raced=self._raced(hazard),
            flashes=any(_flashes(lab, effect) for lab, effect in self._each(found, hazard)),
        )

    def _again(self, found: Sequence[tuple[Effect, str]], corner: str) -> Iterator[tuple[int, int]]:
        """In one corner the frames after which what is lit again is so, for each group that loses
        any; 0 where nothing is ever lost.
        """
        effects = [effect for effect, which in found if which == corner]
        spans = [span for effect in effects if (span := self._read(effect)[1]) is not None]
        yield from spans if any(effect.seen for effect in effects) else [(0, 0)]

    def _each(
        self, found: Sequence[tuple[Effect, str]], hazard: Hazard
    ) -> Iterator[tuple[Laboratory, Effect]]:
        labs = [lab for lab in self.laboratories if _concerned(lab, hazard)]
        for lab, (effect, _) in zip(labs, found[:: len(CORNERS)], strict=True):
            yield lab, effect

    def _effects(self, lab: Laboratory, hazard: Hazard) -> Iterator[tuple[Effect, str]]:
        if _concerned(lab, hazard):
            faults = strike_at(hazard, 0)
            yield from ((lab.effect(faults, which), which) for which in CORNERS)

    def _raced(self, hazard: Hazard) -> bool:
        strikes = hazard.strikes if hazard.lasts is None and len(hazard.strikes) == 1 else ()
        labs = [lab for lab in self.laboratories if _concerned(lab, hazard)]
        return any(lab.outcome(strike).races for strike in strikes for lab in labs)

    def _read(self, effect: Effect) -> tuple[Effect, tuple[int, int] | None, float]:
        if id(effect) not in self.known:
            again = [reading for reading in effect.readings if reading.last == LIT]
            worst = max(again, key=_length, default=None)
            self.known[id(effect)] = effect, worst.lost if worst else None, self._damage(effect)
        return self.known[id(effect)]

    def _damage(self, effect: Effect) -> float:
        length = self.laboratories[0].rig.length
        return sum(
            sum(area for _, area in share.walls) * mean_time(line, length, effect.repeat, UNLIT)
            for line, share in effect.lines
        )


def _length(reading: Reading) -> tuple[object, ...]:
    return reading.lost[1], reading.lost[0], reading.line


def _concerned(lab: Laboratory, hazard: Hazard) -> bool:
    return any(map(lab.concerns, hazard.strikes))


def _flashes(lab: Laboratory, effect: Effect) -> bool:
    return flashes_of(effect, lab.canvas.area) > MOST_FLASHES


def widest(spans: Iterable[tuple[int, int]]) -> tuple[int, int] | None:
    """From the least to the most of several spans; None of none."""
    of = list(spans)
    return (min(least for least, _ in of), max(most for _, most in of)) if of else None
