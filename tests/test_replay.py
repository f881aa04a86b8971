"""Every fault frame by frame: what spots show, what is lost, what happened.

In: small rigs, `first` and a part of `river`. Out: against runs of the whole rig in which nothing
is merged, each frame judged by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import pytest

from sim.engine.run import run
from sim.engine.signal import Note
from sim.faults import Script
from sim.rig.topology import Rig, corner
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.deeds import deeds, inputs_of
from sim.study.effects import Canvas
from sim.study.fault_text import parse_faults
from sim.study.laboratory import Laboratory
from sim.study.outcome import CORNERS
from sim.study.replay import Replay, Replays, replays, scripted
from sim.study.screen import spots
from sim.study.strikes import Strike, strikes
from sim.study.study import rig_of as rig_for
from tests.labs import full_run, lines_of, long, rig_of

SHIPPED = [
    ("first", "panel", label)
    for label in ("relay-pair", "single-feed", "return-loop", "two-unit", "crossed-relays")
] + [("river", "main", "crossed-relays"), ("river", "banks", "mirrored-guarded")]
OFTEN = 61
"""Of a large rig every so many-th fault is looked at."""


@cache
def shipped(scenario: str, group: str, label: str) -> tuple[Rig, Replays]:
    found = load(find(scenario))
    variant = next(each for each in found.variants(group) if each.label == label)
    rig = rig_for(found, variant)[1]
    assert rig is not None
    every = strikes(rig)
    return rig, replays(Laboratory(rig, group), every[:: OFTEN if len(every) > 500 else 1])


@cache
def small(topology: str) -> tuple[Rig, Replays]:
    rig = rig_of(long(topology))
    name = next(iter(rig.groups))
    return rig, replays(Laboratory(rig, name), strikes(rig)[::3])


def state(line: Sequence[tuple[int, int]], start: int, end: int) -> int:
    """The worst state of any length of a line between two flicks: 0 dark .. 5 lit."""
    ends = [*(at for at, _ in line[1:]), end]
    inside = [q for (a, q), b in zip(line, ends, strict=True) if max(a, start) < min(b, end)]
    return max(min(inside), 1) - 1


def shown(replay: Replay, many: int) -> list[list[int]]:
    """The state of every spot in every frame told."""
    frames = [[5] * many for _ in range(replay.end)]
    for course, numbers in replay.courses:
        ends = [*(frame for frame, _ in course[1:]), replay.end]
        for (start, at), end in zip(course, ends, strict=True):
            for frame in range(start, end):
                for number in numbers:
                    frames[frame][number] = at
    return frames


def telling(lines: Sequence[Sequence[tuple[int, int]]], frame: int, end: int) -> list[int]:
    """Frames at which something may be wrong: round every change, and a few more."""
    near = {at // frame + more for line in lines for at, _ in line for more in (-1, 0, 1)}
    return sorted(k for k in {*near, 0, end // 2, end - 1} if 0 <= k < end)


@pytest.mark.parametrize("which", SHIPPED, ids=" ".join)
def test_every_spot_shows_what_the_whole_rig_shows_in_each_frame(which):
    rig, found = shipped(*which)
    cells = rig.groups[found.group].cells
    number = {(p.cabinet, p.stack): n for n, p in enumerate(found.spots)}
    assert len(found.replays) > 15
    unlike = 0
    for replay in found.replays:
        lines = lines_of(rig, full_run(rig, replay.strike.faults), found.group)
        frames = shown(replay, len(found.spots))
        asked = telling([*lines.values()], rig.frame, replay.end)
        for cell, line in lines.items():
            spot = number[cells[cell].cabinet, cells[cell].stack]
            for k in asked:
                expected = state(line, k * rig.frame, (k + 1) * rig.frame)
                assert frames[k][spot] == expected, (replay.strike.name, cell, k)
                unlike += expected != 5
    assert unlike > 100


@pytest.mark.parametrize("which", SHIPPED[:1] + SHIPPED[-2:], ids=" ".join)
def test_what_happened_is_told_by_everything_s_own_name(which):
    rig, found = shipped(*which)
    for replay in found.replays:
        trace = full_run(rig, replay.strike.faults)
        assert sorted(map(_key, replay.notes)) == sorted(map(_key, trace.notes))


def _key(note: Note) -> tuple[int, str, str, str]:
    return note.at, note.name, note.what, note.detail


@pytest.mark.parametrize("which", SHIPPED, ids=" ".join)
def test_frames_played_are_those_shown(which):
    _, found = shipped(*which)
    for replay in found.replays:
        frames = shown(replay, len(found.spots))
        for place, target in enumerate(found.targets):
            if target.kind == "view":
                continue
            worst = [min(now[n] for n in target.spots) for now in frames]
            counts = tuple(worst.count(each) for each in range(6))
            assert dict(replay.played).get(place, (0, 0, 0, 0, 0, replay.end)) == counts


def brute(rig: Rig, strike: Strike, group: str, inside: set[tuple[str, int]]) -> list[list[int]]:
    """Frames by state between the first change and the last of all cells inside taken as one that
    is always as bad as the worst of them, at every corner, for every phase that matters.
    """
    return [counts for which in CORNERS for counts in _phases(rig, strike, group, inside, which)]


def _phases(
    rig: Rig, strike: Strike, group: str, inside: set[tuple[str, int]], which: str
) -> Iterator[list[int]]:
    cells = rig.groups[group].cells
    lines = [
        line
        for n, line in lines_of(rig, full_run(rig, strike.faults, which), group).items()
        if (cells[n].cabinet, cells[n].stack) in inside
    ]
    instants = sorted({at for line in lines for at, _ in line})
    worst = [(at, min([q for t, q in line if t <= at][-1] for line in lines)) for at in instants]
    worst = [w for n, w in enumerate(worst) if w[1] != (worst[n - 1][1] if n else 6)]
    if len(worst) < 2:  # nothing changes, or once for all: no time between
        yield [0] * 6
        return
    for shift in sorted({(-at + more) % rig.frame for at, _ in worst for more in (0, 1)}):
        moved = [(0, 6), *((at + shift + rig.frame, q) for at, q in worst)]
        first, last = moved[1][0], moved[-1][0]
        states = [
            state(moved, k * rig.frame, (k + 1) * rig.frame)
            for k in range(first // rig.frame, -(-last // rig.frame))
        ]
        yield [states.count(each) for each in range(6)]


def few(found: Replays) -> list[Replay]:
    """Faults that settle, one of each outcome."""
    kept = {}
    for replay in found.replays:
        drops = replay.strike.mode == "drops"
        if replay.tallies and replay.tallies[0].least is not None and not drops:
            kept.setdefault((replay.tallies, replay.verdict), replay)
    return [*kept.values()]


@pytest.mark.parametrize("topology", ["first", "return-loop", "mirrored-guarded"])
def test_frames_lost_over_phase_and_timings_against_enumeration(topology):
    rig, found = shipped(*SHIPPED[4]) if topology == "first" else small(topology)
    judged = few(found)
    assert len(judged) > 8
    for replay in judged:
        for tally in replay.tallies:
            target = found.targets[tally.target]
            if target.kind == "view":
                continue
            inside = {(found.spots[n].cabinet, found.spots[n].stack) for n in target.spots}
            counts = brute(rig, replay.strike, found.group, inside)
            least = [min(of) for of in zip(*counts, strict=True)]
            most = [max(of) for of in zip(*counts, strict=True)]
            assert ([*tally.least], [*tally.most]) == (least, most), (replay.strike.name, target)


def test_the_enumeration_tells_another_timing_apart():
    rig, found = shipped(*SHIPPED[4])
    replay = next(r for r in few(found) if r.grade and r.verdict == "blink")
    inside = {(p.cabinet, p.stack) for p in found.spots}
    counts = [*_phases(rig, replay.strike, found.group, inside, "typical")]
    assert [max(of) for of in zip(*counts, strict=True)] != [*replay.tallies[0].most]


def test_what_is_lost_for_good_is_told_as_staying():
    _, found = shipped("first", "panel", "single-feed")
    for replay in found.replays:
        if replay.strike.name.endswith("receiver dead"):
            assert replay.verdict == "lasting"
            assert replay.tallies[0].stays == (0, 0)
    stays = {t.stays for r in found.replays if r.verdict != "lasting" for t in r.tallies}
    assert stays == {(5, 5)}


def test_flapping_has_no_number_of_frames_but_a_period():
    _, found = shipped("first", "panel", "single-feed")
    flapping = [r for r in found.replays if r.strike.mode == "flapping" and r.tallies]
    assert flapping
    for replay in flapping:
        assert replay.repeat is not None
        assert all(tally.least is tally.most is None for tally in replay.tallies)


def test_spots_are_numbered_cabinet_by_cabinet_and_cover_the_walls():
    rig, found = shipped("river", "banks", "mirrored-guarded")
    canvas = Canvas(rig, rig.groups["banks"])
    assert found.spots == spots(canvas)
    assert sum(patch.area for patch in found.spots) == canvas.area
    assert {n for t in found.targets if t.kind == "wall" for n in t.spots} == set(
        range(len(found.spots))
    )


def test_kinds_of_steps():
    rig, found = shipped("first", "panel", "crossed-relays")
    kinds = set()
    for replay in found.replays:
        given = deeds(inputs_of(rig), replay.notes)
        assert len(given) == len(replay.notes)
        kinds |= set(given)
        for note, kind in zip(replay.notes, given, strict=True):
            assert (kind == "struck") == (note.what in ("fault", "action"))
            if note.what == "lost":
                assert kind == "noticed"
    assert {"struck", "noticed", "switched", "back"} <= kinds


SCRIPTS = {
    "in the show": ("dead panel/r1c2/receiver at 00:05:00:10", "cut panel/chain-1/head at 320 s"),
    "before it": ("dead panel/unit-a before the show",),
    "flapping": ("flapping panel/chain-1/head every 4 s at 61 s for 30 s",),
}


@pytest.mark.parametrize("which", SCRIPTS)
def test_one_script_is_told_from_its_first_fault_on(which):
    found = load(find("first"))
    rig = rig_for(found, found.offered["panel"])[1]
    struck = parse_faults(SCRIPTS[which], rig, found.rate, found.start, {})
    script = Script(struck)
    trace = run(rig, script, corner(rig, "typical"), rig.length)
    told = scripted(rig, "panel", script, trace, SCRIPTS[which])
    (replay,) = told.replays
    assert told.origin == max(0, struck[0].at) // rig.frame
    lines = lines_of(rig, trace, "panel")
    number = {(p.cabinet, p.stack): n for n, p in enumerate(told.spots)}
    frames = shown(replay, len(told.spots))
    moved = [tuple((at - told.origin * rig.frame, q) for at, q in line) for line in lines.values()]
    unlike = 0
    for k in telling(moved, rig.frame, replay.end):
        for cell, line in lines.items():
            of = rig.groups["panel"].cells[cell]
            start = (told.origin + k) * rig.frame
            expected = state(line, start, start + rig.frame)
            assert frames[k][number[of.cabinet, of.stack]] == expected
            unlike += expected != 5
    assert unlike
    assert replay.verdict == ("blink" if which == "flapping" else "lasting")
    assert (not replay.notes) == (which == "before it")
    assert all(note.at >= 0 for note in replay.notes)
