"""One script told in full: tolls of walls, regions and views, the worst moment, letters.

In: small rigs and scripts. Out: against every pixel at every frame.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from sim.faults import Action, Fault, Script
from sim.rig.topology import Rig
from sim.rig.wall import Region
from sim.study.effects import STATES, state_of
from sim.study.injection import LETTERS, Toll, inject
from sim.study.ledger import Frames
from sim.timebase import FLICKS
from tests.labs import full_run, pixels_of, plan_for, rig_of
from tests.plans import FRAME, banks, main

REGION = Region("score", "screen", 5, 5, 20, 10)
SCRIPTS = {
    "a blink": (Fault("main/trunk-main-1", "cut", FLICKS + 77, 2 * FLICKS),),
    "a dead receiver": (Fault("main/r2c2/receiver", "dead", 3 * FRAME),),
    "three at once": (
        Fault("main/r1c1/receiver", "stuck", FRAME), Fault("main/r2c1/receiver", "corrupt", 0),
        Fault("main/chain-3/head", "cut", FLICKS), Fault("cam", "stale", 2 * FLICKS, 3 * FLICKS),
    ),
    "a lost inset": (Fault("results", "dead", FLICKS),),
    "before the show": (Fault("main/chain-2/head", "cut", -1),),
    "at the end": (Fault("main/unit-a", "dead", 10 * FLICKS - FRAME // 2),),
}  # fmt: skip


def counted(rig: Rig, faults: tuple[Fault, ...], inside: Region | None) -> Toll:
    """The toll of the wall or a region, pixel by pixel and frame by frame."""
    trace = full_run(rig, faults)
    pixels = [
        line for x, y, line in pixels_of(rig, trace, "main", "screen")
        if inside is None
        or (0 <= x - inside.x < inside.w and 0 <= y - inside.y < inside.h)
    ]  # fmt: skip
    areas = Counter(pixels)
    frames: Counter[int] = Counter()
    lost = []
    for k in range(rig.length // FRAME):
        worst = min(_worst(line, k * FRAME, (k + 1) * FRAME) for line in areas)
        frames[worst] += 1
        lost += [k] if worst < 5 else []
    greatest = dict.fromkeys(STATES, Fraction(0))
    for at in {at for line in areas for at, _ in line}:
        now = Counter(dict.fromkeys(range(6), 0))
        for line, area in areas.items():
            now[state_of([q for t, q in line if t <= at][-1])] += area
        for number, name in enumerate(STATES):
            greatest[name] = max(greatest[name], Fraction(now[number], len(pixels)))
    return Toll(
        "region" if inside else "wall", inside.name if inside else "screen", "main",
        Frames(*(frames[s] for s in range(6))), {k: v for k, v in greatest.items() if v},
        min(lost, default=None), max(lost, default=None),
        any(state_of(line[-1][1]) < 5 for line in areas),
        _shares_at_end(areas, len(pixels)),
    )  # fmt: skip


def _shares_at_end(areas: Counter[tuple[tuple[int, int], ...]], total: int) -> dict[str, Fraction]:
    ends = Counter(state_of(line[-1][1]) for line in areas.elements())
    return {name: Fraction(ends[n], total) for n, name in enumerate(STATES) if ends[n]}


def _worst(line: tuple[tuple[int, int], ...], start: int, end: int) -> int:
    before = [q for at, q in line if at <= start][-1]
    return min(state_of(q) for q in [before, *(q for at, q in line if start < at < end)])


@pytest.mark.parametrize("name", SCRIPTS)
@pytest.mark.parametrize("topology", ["single-feed", "relay-pair"])
def test_tolls_of_wall_and_region_against_enumeration(name: str, topology: str) -> None:
    rig = rig_of(main(topology, regions=(REGION,)))
    told = {(toll.kind, toll.name): toll for toll in inject(rig, Script(SCRIPTS[name])).tolls}
    assert told["wall", "screen"] == counted(rig, SCRIPTS[name], None)
    assert told["region", "score"] == counted(rig, SCRIPTS[name], REGION)
    assert told["group", "main"].frames == told["wall", "screen"].frames


def test_the_wall_at_its_worst_moment_in_letters() -> None:
    rig = rig_of(main("single-feed"))
    script = Script((
        Fault("main/r1c1/receiver", "stuck", FRAME), Fault("main/r2c2/receiver", "corrupt", FRAME),
        Fault("main/r2c4/receiver", "dead", 2 * FRAME, 90 * FRAME),
        Fault("main/r3c1/receiver", "stale", FRAME), Fault("main/r3c3/receiver", "unlocked", FRAME),
    ))  # fmt: skip
    found = inject(rig, script)
    assert found.worst_at == 2 * FRAME
    (moment,) = found.moment
    assert moment.rows == ("F...", ".C.D", "WCUD")
    assert LETTERS == "DCWFU."


def test_a_cabinet_that_is_lost_in_part_has_a_small_letter() -> None:
    rig = rig_of(main("single-feed"))
    (moment,) = inject(rig, Script((Fault("results", "blanked", FRAME),))).moment
    assert moment.rows == ("d...", "....", "....")


def test_the_worst_moment_is_the_first_of_the_darkest() -> None:
    rig = rig_of(main("single-feed"))
    twice = tuple(Fault("main/chain-1/head", "cut", n * FLICKS, n * FLICKS + FRAME) for n in (2, 4))
    more = Fault("main/unit-a", "stale", FLICKS, FLICKS + FRAME)
    assert inject(rig, Script((*twice, more))).worst_at == 2 * FLICKS


def test_the_walls_when_the_show_ends_and_since_when_they_have_stood_so() -> None:
    """At the worst moment all but the stuck one is dark; it and the inset are left at the end."""
    rig = rig_of(main("single-feed"))
    found = inject(rig, Script((
        Fault("main/r2c2/receiver", "stuck", FRAME), Fault("results", "stale", 2 * FRAME),
        Fault("main/unit-a", "blanked", FLICKS, 2 * FLICKS + 1),
    )))  # fmt: skip
    assert found.moment[0].rows == ("DDDD", "DFDD", "DDDD")
    assert found.at_end[0].rows == ("w...", ".F..", "....")
    assert found.changed_at == 2 * FLICKS + 1
    group = next(toll for toll in found.tolls if toll.kind == "group")
    assert group.at_end and group.end == {"frozen": Fraction(1, 12), "wrong": Fraction(25, 1200)}
    healed = inject(rig, Script((Fault("main/trunk-main-1", "cut", 0, FLICKS),)))
    assert healed.moment != healed.at_end
    assert healed.at_end[0].rows == ("....", "....", "....")


def test_a_quiet_script_loses_nothing() -> None:
    rig = rig_of(main("relay-pair"))
    found = inject(rig, Script())
    assert not found.notes and not found.pending and found.flashes == 0
    for toll in found.tolls:
        assert toll.frames == Frames(lit=600)
        assert (toll.first, toll.last, toll.at_end) == (None, None, False)
        assert toll.worst == toll.end == {}
    assert {row for moment in found.moment for row in moment.rows} == {"...."}
    assert (found.at_end, found.changed_at) == (found.moment, 0)


def test_who_noticed_what_and_switched_when() -> None:
    rig = rig_of(plan_for("relay-pair", rows=1, columns=1))
    found = inject(rig, Script((Fault("main/trunk-main-1", "cut", FLICKS),)))
    told = [(n.at - FLICKS, n.name.split("/")[-1], n.what) for n in found.notes]
    assert told[:2] == [(0, "trunk-main-1", "fault"), (0, "trunk-main-1", "down")]
    screen = [(at, what) for at, name, what in told if name.startswith("receiver")]
    assert screen == [(0, "lost"), (2 * FRAME, "switching"), (3 * FRAME, "on")]


def test_the_view_of_mirrored_walls_is_told_beside_each_wall() -> None:
    rig = rig_of(banks("mirrored", audience={"terrace": ("left",)}))
    found = inject(rig, Script((Fault("banks/left/relay-main", "dead", 0),)))
    told = {(toll.kind, toll.name): toll for toll in found.tolls}
    assert told["wall", "left"].frames == Frames(dark=600)
    assert told["wall", "right"].frames == told["view", "the picture"].frames == Frames(lit=600)
    assert told["view", "terrace"].frames == Frames(dark=600)
    assert told["group", "banks"].worst == {"dark": Fraction(1, 2)}


def test_corners_and_actions_are_taken() -> None:
    rig = rig_of(main("relay-pair"))
    take = Script(actions=(Action(FLICKS, "take", "main/unit-a", "all"),))
    assert all(toll.frames == Frames(lit=600) for toll in inject(rig, take).tolls)
    moved = Script((Fault("main/unit-a", "moved", FLICKS, choice="all"),))
    toll = inject(rig, moved, "all-most").tolls[0]
    assert toll.frames == Frames(wrong=540, lit=60) and toll.at_end
    assert toll.worst == {"wrong": Fraction(25, 1200)}
