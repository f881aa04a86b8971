"""What one event adds to a show, as areas over time: by channel, from the event on.

In: what a group shows (`Shown`), the channels (`Asked`). Out: frozen `Profile`s; times are flicks
from the event, areas pixels.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sim.risk.channels import Asked, Channel
from sim.study.effects import LIT, Line, part_of
from sim.study.shown import Shown

Areas = tuple[int, ...]
Steps = tuple[tuple[int, Areas], ...]


@dataclass(frozen=True, slots=True)
class Profile:
    """`steps`: (flicks from the event, area of each channel), the first at 0; `settled`: flicks
    until nothing changes, or, with `repeat`, until it repeats itself between those flicks.
    """

    steps: Steps
    settled: int
    repeat: tuple[int, int] | None = None

    @property
    def blank(self) -> bool:
        """Whether no channel ever has any area."""
        return not any(any(areas) for _, areas in self.steps)


def profile(
    shown: Shown, asked: Asked, audience: Mapping[str, tuple[str, ...]], event: int
) -> Profile:
    """The areas from `event` on. `audience`: the walls that areas of the audience see."""
    changes: dict[int, list[int]] = {event: [0] * len(asked.channels)}
    wanted = frozenset(asked.areas)
    for line, share in shown.lines:
        areas = {each: part_of(each, share, audience) for each in wanted - set(shown.views)}
        _add(changes, asked.channels, line, areas)
    for name in wanted & set(shown.views):
        for line, area in shown.views[name]:
            _add(changes, asked.channels, line, {name: area})
    repeat = shown.repeat and (shown.repeat[0] - event, shown.repeat[1] - event)
    return Profile(_steps(changes, event), max(shown.settled - event, 0), repeat)


def _add(
    changes: dict[int, list[int]],
    channels: tuple[Channel, ...],
    line: Line,
    areas: Mapping[str, int],
) -> None:
    before = LIT
    for at, quality in line:
        if quality == before:
            continue
        row = changes.setdefault(at, [0] * len(channels))
        for number, channel in enumerate(channels):
            now, then = channel.by_quality[quality], channel.by_quality[before]
            if now != then:
                row[number] += areas.get(now, 0) - areas.get(then, 0)
        before = quality


def _steps(changes: Mapping[int, list[int]], event: int) -> Steps:
    """Running sums from the event on; steps that change nothing are left out."""
    found: list[tuple[int, Areas]] = []
    now = (0,) * len(changes[event])
    for at in sorted(changes):
        now = tuple(a + b for a, b in zip(now, changes[at], strict=True))
        when = max(at - event, 0)
        if found and found[-1][0] == when:
            found.pop()
        if not found or found[-1][1] != now:
            found.append((when, now))
    return tuple(found)
