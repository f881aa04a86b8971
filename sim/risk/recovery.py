"""What faults do by themselves, while nobody mends them: what is seen, how soon it is over.

In: a `Sampling`, the place of a topology; typical timings. Out: `Sight`s, names of kinds of
hazards, times in flicks.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.risk.alone import FOR_EVER, spans_over
from sim.risk.bands import kind_of, name_of_kind
from sim.risk.channels import DARK
from sim.risk.field import Field
from sim.risk.piles import Sampling
from sim.risk.profile import Profile
from sim.risk.sight import UNSEEN, Sight, ended, sight_of

MOST_RECOVERIES = 5


def by_itself(field: Field, number: int) -> Profile | None:
    """A hazard of this topology (by its number there) alone, with its end where it ends of itself;
    None where it does nothing alone.
    """
    scenes = field.scenes
    if not scenes.concerned[number] or not scenes.strikes[number].faults:
        return None
    made, lasts = scenes.alone(number), scenes.hazards[number].lasts
    return made if lasts is None else ended(made, scenes.mended(number), lasts)


def sight(field: Field, number: int) -> Sight:
    """What the audience sees of one hazard."""
    made = by_itself(field, number)
    whole = field.gauge.asked.areas["group"]
    return UNSEEN if made is None else sight_of(made, whole, field.gauge.frame)


def single_points(of: Sampling, topology: int) -> tuple[str, ...]:
    """Kinds of hazards of which one alone leaves everything dark until mended, in order."""
    found = {
        name: None
        for name, field, number in _each(of, topology)
        if (seen := sight(field, number)).dark == 1 and not seen.turns
    }
    return tuple(found)


def recoveries(of: Sampling, topology: int) -> tuple[tuple[str, int], ...]:
    """Kinds of faults during the show after which nothing is dark any more although nobody mends
    them, with the flicks that this takes; the longest first.
    """
    found: dict[str, int] = {}
    for name, field, number in _each(of, topology):
        lasts = _dark_until(by_itself(field, number))
        if 0 < lasts < FOR_EVER and not field.scenes.hazards[number].early:
            found[name] = max(found.get(name, 0), lasts)
    longest = sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple(longest[:MOST_RECOVERIES])


def _each(of: Sampling, topology: int) -> Iterator[tuple[str, Field, int]]:
    """All hazards of a topology: name of its kind, where, number there."""
    field = of.fields[topology]
    for place, hazard in enumerate(of.union.hazards):
        if field.local[place] >= 0:
            yield name_of_kind(kind_of(hazard)), field, field.local[place]


def _dark_until(made: Profile | None) -> int:
    """Flicks until nothing is dark any more; `FOR_EVER` where something stays so."""
    spans = spans_over(made, DARK, 0) if made else []
    turns = made is not None and made.repeat is not None
    return FOR_EVER if turns and spans else max((end for _, end in spans), default=0)
