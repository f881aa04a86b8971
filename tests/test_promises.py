"""Whether limits are met, perhaps met or not: against every instant and phase counted one by one.

In: small lines (a flick is a unit of its own here), limits; then whole rigs. Out: verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from hypothesis import example, given
from hypothesis import strategies as st

from sim.rig.wall import Region
from sim.scenario.scenario import Limit
from sim.study.contingency import singles
from sim.study.effects import STATES, state_of
from sim.study.promises import (
    MET,
    NOT,
    OPEN,
    PERHAPS,
    dark_stretches,
    judge,
    stretches,
    targets,
    touched,
    verdicts,
)
from sim.study.strikes import strikes
from sim.timebase import FLICKS, Timing, fixed
from tests.labs import laboratory, plan_for, strike_on
from tests.plans import FRAME, KITS, RECEIVER, main

Line = tuple[tuple[int, int], ...]
END = 40
"""Past the last step of any line here."""


def limit(over: str = "1/2", frames: int = 3, of: str = "wall", **more: Any) -> Limit:
    made = Limit("single fault", "dark", Fraction(over), of, frames * FRAME, frames, "", "a limit")
    return replace(made, **more)


def at(line: Line, t: int) -> int:
    return [quality for start, quality in line if start <= t][-1]


def in_state(quality: int, state: str) -> bool:
    number = state_of(quality)
    return number < 5 if state == "not lit" else number == STATES.index(state)


def counted(lines: Sequence[tuple[Line, int]], state: str, over: Fraction) -> list[int | None]:
    """Lengths of the stretches, flick by flick."""
    inside = [
        sum(area for line, area in lines if in_state(at(line, t), state)) > over for t in range(END)
    ]
    found: list[int | None] = []
    start = None
    for t, now in enumerate([*inside, None]):
        if now and start is None:
            start = t
        elif not now and start is not None:
            found.append(None if now is None else t - start)
            start = None
    return found


LINES = st.lists(
    st.tuples(st.integers(1, END - 2), st.integers(0, 6)), max_size=6, unique_by=lambda s: s[0]
).flatmap(lambda steps: st.integers(0, 6).map(lambda q: ((0, q), *sorted(steps))))
AREAS = st.lists(st.tuples(LINES, st.integers(1, 5)), min_size=1, max_size=4)


HALVES = st.integers(0, 12).map(lambda n: Fraction(n, 2))


@given(AREAS, st.sampled_from([*STATES, "not lit"]), HALVES)
@example([(((0, 6), (3, 0), (5, 1), (7, 6)), 2)], "dark", Fraction(1))
def test_stretches_against_enumeration(
    lines: list[tuple[Line, int]], state: str, over: Fraction
) -> None:
    assert stretches(lines, state, over) == counted(lines, state, over)


@given(AREAS, st.integers(1, 12))
def test_dark_stretches_take_the_share_itself_in_against_enumeration(
    lines: list[tuple[Line, int]], least: int
) -> None:
    dark = dark_stretches(lines, Fraction(least))
    found = [None if end is None else end - begin for begin, end in dark]
    assert found == counted(lines, "dark", Fraction(2 * least - 1, 2))


@given(st.integers(1, 60), st.integers(1, 12))
def test_frames_touched_by_an_outage_against_enumeration(length: int, frame: int) -> None:
    """Over a continuous phase: ceil(d / F) to ceil(d / F) + 1; whole d / F gives d / F or one more.

    Phases are tried in halves of a flick, so that none between two flicks is left out.
    """
    phases = [Fraction(n, 2) for n in range(2 * frame)]
    counts = [-(-(p + length) // frame) - p // frame for p in phases]
    least, most = touched(length, frame)
    assert least == min(counts) and most >= max(counts)
    if length % frame != 1 or frame == 1:
        assert most == max(counts)


def test_what_lasts_touches_more_frames_than_any_limit_allows() -> None:
    assert min(touched(None, FRAME)) > 10**12


# ---- whole rigs


def judged(detect: tuple[int, int], of: Limit, **more: Any) -> str:
    """The verdict on the main trunk cut: detect in this range of frames, then one to switch."""
    low, high = (n * FRAME for n in detect)
    timings = {"detect": Timing(low, (low + high) // 2, high), "wait_to_restore": fixed(10**12)}
    card = replace(RECEIVER, timings={**RECEIVER.timings, **timings})
    lab = laboratory(main("relay-pair", kits={**KITS, "receiver": card}, **more))
    return judge(of, lab.canvas, lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "cut")))


def test_met_perhaps_and_not_met_by_range_and_phase() -> None:
    """An outage of n whole frames touches n or n + 1: it is met from n + 1 on, not met below n."""
    for least, most in ((2, 2), (2, 6), (4, 9)):
        for allowed in range(1, 13):
            spans = [n + 1 for n in (least, (least + most) / 2, most)]
            surely = all(span > allowed for span in spans)
            possibly = any(span + 1 > allowed for span in spans)
            wanted = NOT if surely else PERHAPS if possibly else MET
            assert judged((least, most), limit(frames=allowed)) == wanted, (least, most, allowed)


def test_a_share_that_is_just_reached_is_not_exceeded() -> None:
    assert judged((2, 2), limit("1", frames=1)) == MET
    assert judged((2, 2), limit("99/100", frames=1)) == NOT


def test_other_states_and_not_lit() -> None:
    assert judged((2, 2), limit(state="frozen", frames=1)) == MET
    assert judged((2, 2), limit(state="not lit", frames=1)) == NOT


def test_a_limit_on_a_region_counts_only_the_region() -> None:
    region = Region("score", "screen", 0, 0, 10, 10)
    lab = laboratory(main("single-feed", regions=(region,)))
    chain = {c: lab.outcome(strike_on(lab.rig, f"main/chain-{c}/head", "cut")) for c in (1, 2)}
    assert judge(limit("1/2", of="score"), lab.canvas, chain[1]) == NOT
    assert judge(limit("1/2", of="score"), lab.canvas, chain[2]) == MET
    assert judge(limit("1/4", of="wall"), lab.canvas, chain[1]) == MET, "a quarter, not more"
    assert judge(limit("24/100", of="wall"), lab.canvas, chain[1]) == NOT


def test_a_limit_on_the_wall_holds_for_each_wall_and_one_on_the_group_for_all_pixels() -> None:
    audience = {"terrace": ("left",), "bridge": ("left", "right")}
    lab = laboratory(plan_for("mirrored", audience=audience))
    relay = lab.outcome(strike_on(lab.rig, "banks/left/relay-main", "dead"))
    for of, wanted in (
        ("wall", NOT), ("left", NOT), ("right", MET), ("group", MET), ("banks", MET),
        ("terrace", NOT), ("bridge", MET),
    ):  # fmt: skip
        assert judge(limit("3/5", of=of), lab.canvas, relay) == wanted, of
    assert targets(limit(of="wall"), lab.canvas) == ("left", "right")
    assert targets(limit(of="elsewhere"), lab.canvas) == ()


def test_verdicts_name_what_breaks_a_limit() -> None:
    lab = laboratory(main("relay-pair"))
    outcomes = singles(lab, strikes(lab.rig))
    (all_faults, losses, double) = verdicts(
        [limit(), limit(any="single dead or cut"), limit(any="double fault")], lab.canvas, outcomes
    )
    assert double.verdict == OPEN and not double.breakers
    assert all_faults.verdict == losses.verdict == NOT
    names = {strike.name for strike in losses.breakers}
    assert names < {strike.name for strike in all_faults.breakers}
    assert {strike.mode for strike in losses.breakers} <= {"dead", "cut"}
    assert {"main/unit-a dead", "cam dead"} <= names
    assert "main/relay-main blanked" in {strike.name for strike in all_faults.breakers}
    assert not verdicts([limit(group="another")], lab.canvas, outcomes)


def test_a_flapping_fault_that_keeps_coming_back_is_judged_by_its_longest_outage() -> None:
    lab = laboratory(main("single-feed"))
    outcome = lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "flapping"))
    assert judge(limit(frames=FLICKS // FRAME + 1), lab.canvas, outcome) == MET
    assert judge(limit(frames=FLICKS // FRAME - 1), lab.canvas, outcome) == NOT
