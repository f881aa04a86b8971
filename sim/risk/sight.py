"""What the audience sees of one fault by itself: a blink and what lasts, told apart.

In: what the fault does (`Profile`), what its end adds if it ends of itself; areas in pixels, times
in flicks. Out: a frozen `Sight`: parts of the group's area, exact; frames over all phases.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sim.faults import Quality
from sim.risk.alone import FOR_EVER, spans_over
from sim.risk.channels import DARK, DEFECT
from sim.risk.profile import Profile, Steps
from sim.study.ledger import over_phase

NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Sight:
    """`dark`, `spoilt`: the parts that stay dark, or not as intended in another way, once the rig
    has settled, until somebody mends it; with `turns` they come and go, and are the most of a turn.
    `blink`: the most that is seen beyond that before it has settled, `blink_dark` whether it is
    dark; `frames` that it takes (least, most over the phase), `time` from its first to its last
    flick. All parts of the group's area; 0 where there is none.
    """

    dark: Fraction = NOTHING
    spoilt: Fraction = NOTHING
    turns: bool = False
    blink: Fraction = NOTHING
    blink_dark: bool = False
    frames: tuple[int, int] = (0, 0)
    time: int = 0

    @property
    def lasting(self) -> bool:
        """Whether anything stays once the rig has settled."""
        return bool(self.dark or self.spoilt)

    @property
    def unseen(self) -> bool:
        return not self.lasting and not self.blink


UNSEEN = Sight()


def ended(made: Profile, after: Profile, lasts: int) -> Profile:
    """A fault that ends of itself after so many flicks, with what its end adds."""
    before = tuple(step for step in made.steps if step[0] < lasts)
    steps = (*before, *((at + lasts, areas) for at, areas in after.steps))
    return Profile(steps, after.settled + lasts)


def sight_of(made: Profile, whole: int, frame: int) -> Sight:
    """`whole`: pixels of the group; `frame`: flicks."""
    left = _left(made)
    dark = max(areas[DARK] for _, areas in left)
    spoilt = max(areas[DEFECT] for _, areas in left) - dark
    parts = Fraction(dark, whole), Fraction(max(spoilt, 0), whole), made.repeat is not None
    settled = Profile(made.steps, made.settled) if made.repeat is None else _once(made)
    for channel, over in ((DARK, dark), (DEFECT, dark + max(spoilt, 0))):
        spans = [(a, b) for a, b in spans_over(settled, channel, over) if b < FOR_EVER]
        if spans:
            most = max(areas[channel] for _, areas in settled.steps)
            return Sight(
                *parts,
                blink=Fraction(most, whole),
                blink_dark=channel == DARK,
                frames=_frames(spans, frame),
                time=spans[-1][1] - spans[0][0],
            )
    return Sight(*parts)


def _left(made: Profile) -> Steps:
    """The steps that hold once it has settled: the last one, or those of one turn."""
    if made.repeat is None:
        return made.steps[-1:]
    first, second = made.repeat
    begin = max((at for at, _ in made.steps if at <= first), default=first)
    return tuple(step for step in made.steps if begin <= step[0] < second)


def _once(made: Profile) -> Profile:
    """What comes before the first turn; from there on as in its least."""
    assert made.repeat is not None
    before = tuple(step for step in made.steps if step[0] < made.repeat[0])
    least = min(areas for _, areas in _left(made))
    return Profile((*before, (made.repeat[0], least)), made.settled)


def _frames(spans: list[tuple[int, int]], frame: int) -> tuple[int, int]:
    """How many frames these touch, each counted once: least and most over one common phase."""
    good, black = int(Quality.GOOD), int(Quality.BLACK)
    line = [step for begin, end in spans for step in ((begin, black), (end, good))]
    found = over_phase(line if spans[0][0] == 0 else [(0, good), *line], frame)
    return found.least.dark, found.most.dark
