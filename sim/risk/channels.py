"""What is measured of a show: areas over time (channels), and questions about them.

In: a `Canvas`, a group's stacks, the `Terms`. Out: frozen `Asked`. Areas are pixels, times flicks.
A channel is an area that changes as things fail; a question asks how long in one go it lies above
a figure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor

from sim.faults import Quality
from sim.rig.terms import ClauseTerms, Terms
from sim.rig.topology import Group
from sim.study.effects import STATES, Canvas, Patch, area_of, state_of, targets_of

MOVING = "(what moves)"
"""A region of our own: pixels whose layer, as intended, moves."""
GROUP = "group"
QUALITIES = tuple(int(quality) for quality in Quality)
DARK, DEFECT, MOVES = 0, 1, 2
"""The first channels: dark, a defect that the audience sees, dark where the picture moves."""


@dataclass(frozen=True, slots=True)
class Channel:
    """An area over time: by quality (0 to 6) the target whose area counts ("" none)."""

    name: str
    by_quality: tuple[str, ...]

    @property
    def targets(self) -> frozenset[str]:
        return frozenset(self.by_quality) - {""}


@dataclass(frozen=True, slots=True)
class Question:
    """How long in one go more than `over` pixels of a channel; `clause` its number in the contract
    (-1: none), `target` what it speaks of.
    """

    channel: int
    over: int
    target: str
    clause: int = -1


@dataclass(frozen=True, slots=True)
class Asked:
    """All channels and questions of a group. `joint`: whether some area is not the sum of what
    unrelated faults do to it (mirrored walls seen together).
    """

    channels: tuple[Channel, ...]
    questions: tuple[Question, ...]
    joint: bool
    areas: Mapping[str, int]

    @property
    def walls(self) -> tuple[int, ...]:
        """The questions "a whole wall dark", by their numbers."""
        return tuple(n for n, q in enumerate(self.questions) if q.clause < 0)


def mark_moving(canvas: Canvas, group: Group, moving: frozenset[str] | None) -> None:
    """Give the canvas the region of what moves; None: everything does."""
    seen = [_seen(group, stack) for stack in range(len(group.stacks))]
    moves = [moving is None or layer in moving for layer in seen]
    area = 0
    for cabinet, patches in canvas.patches.items():
        marked = tuple(_marked(patch, moves[patch.stack]) for patch in patches)
        canvas.patches[cabinet] = marked
        area += sum(patch.area for patch in patches if moves[patch.stack])
    canvas.regions[MOVING] = area


def _marked(patch: Patch, moves: bool) -> Patch:
    return replace(patch, regions=(*patch.regions, (MOVING, patch.area))) if moves else patch


def _seen(group: Group, stack: int) -> str:
    """The layer on top as intended; "" the background."""
    placed = group.stacks[stack][group.arrangements[0]]
    return placed[0].layer if placed else ""


def asked(canvas: Canvas, terms: Terms, views: Sequence[str]) -> Asked:
    """What a group is asked: dark, defects, whole walls, clauses. `views`: mirrored areas."""
    channels: dict[Channel, int] = {}
    for first in (_plain("dark", GROUP), _defect(), _plain("dark", MOVING)):
        channels[first] = len(channels)
    questions = []
    for wall, area in canvas.walls.items():
        number = channels.setdefault(_plain("dark", wall), len(channels))
        questions.append(Question(number, area - 1, wall))
    for clause, each in enumerate(terms.contract.clauses if terms.contract else ()):
        for target in targets(each, canvas):
            number = channels.setdefault(_plain(each.state, target), len(channels))
            over = floor(each.over * area_of(target, canvas, views))
            questions.append(Question(number, over, target, clause))
    used = {target for channel in channels for target in channel.targets}
    areas = {target: area_of(target, canvas, views) for target in used}
    return Asked(tuple(channels), tuple(questions), bool(used & set(views)), areas)


def targets(clause: ClauseTerms, canvas: Canvas) -> tuple[str, ...]:
    """What a clause speaks of in this group."""
    return targets_of(clause.of, canvas) if clause.group in ("", canvas.group.name) else ()


def _plain(state: str, target: str) -> Channel:
    counts = [_counts(state, quality) for quality in QUALITIES]
    return Channel(f"{state} {target}", tuple(target if each else "" for each in counts))


def _counts(state: str, quality: int) -> bool:
    number = state_of(quality)
    return number < len(STATES) if state == "not lit" else STATES[number : number + 1] == (state,)


def _defect() -> Channel:
    """What the audience sees: dark, corrupt, wrong; frozen where the picture moves."""
    seen = {0: GROUP, 1: GROUP, 2: GROUP, 3: MOVING}
    by_quality = tuple(seen.get(state_of(quality), "") for quality in QUALITIES)
    return Channel("defect", by_quality)
