"""When faults of a show are mended: by hand, against an oracle that steps tick by tick, alone.

Times are small whole numbers of flicks: nothing depends on their size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sim.rig.terms import Crew, Law, Repair
from sim.risk.response import alone, mended, undisturbed
from sim.risk.visits import (
    NO_SPARE,
    NO_TURN,
    NO_WAY,
    NOBODY,
    NOT_NOTICED,
    TOO_LATE,
    Incident,
    Mended,
)
from sim.scenario.scenario import Stretch

NIGHT = 100
ONE = Crew(1, control="desk line")
TWO = Crew(2, control="desk line")


def fixed(by: str, travel: int, diagnose: int, fix: int) -> Repair:
    return Repair(by, *(Law("fixed", time) for time in (travel, diagnose, fix)))


RESTART = fixed("restart", 2, 3, 4)
SWAP = fixed("swap", 2, 3, 4)
REMOTE = fixed("remote", 2, 3, 4)


def break_at(begin: int, end: int) -> Stretch:
    return Stretch(f"break at {begin}", begin, end)


def untils(
    incidents: Sequence[Incident], crew: Crew, breaks: Sequence[Stretch] = ()
) -> list[object]:
    return [it.until for it in mended(incidents, crew, breaks, NIGHT)]


def whys(incidents: Sequence[Incident], crew: Crew, breaks: Sequence[Stretch] = ()) -> list[str]:
    return [it.why for it in mended(incidents, crew, breaks, NIGHT)]


# ---- one technician, one fault -------------------------------------------------------------------


def test_notice_travel_diagnose_and_fix_follow_one_another() -> None:
    assert mended([Incident(10, 5, RESTART)], ONE, (), NIGHT) == (Mended(24, 15, 15),)


def test_what_is_so_before_the_show_is_noticed_from_its_start() -> None:
    assert untils([Incident(-50, 5, RESTART)], ONE) == [14]


def test_what_nobody_notices_or_can_mend_is_not_mended_and_binds_nobody() -> None:
    idle = [Incident(0, None, RESTART), Incident(0, 0, None), Incident(0, NIGHT, RESTART)]
    found = mended([*idle, Incident(0, 0, RESTART)], ONE, (), NIGHT)
    assert [it.why for it in found] == [NOT_NOTICED, NOBODY, NOT_NOTICED, ""]
    assert [it.noticed for it in found] == [None, 0, None, 0]
    assert found[3].until == 9


def test_times_are_drawn_from_the_laws() -> None:
    laws = (Law("uniform", 0, 10), Law("uniform", 0, 100), Law("exponential", 1000))
    incident = Incident(0, 7, Repair("restart", *laws), draws=(0.5, 0.25, 0.0))
    assert mended([incident], ONE, (), NIGHT)[0].until == 7 + 5 + 25


def test_what_ends_with_the_show_is_not_mended_in_it() -> None:
    late = [Incident(NIGHT - 9 - early, 0, RESTART) for early in (0, 1)]
    assert untils(late, TWO) == [None, NIGHT - 1]
    assert whys(late, TWO) == [TOO_LATE, ""]


def test_a_year_of_flicks_stays_exact_and_whole() -> None:
    """SimPy's clock is a Python int: above 2^53 a float would lose flicks."""
    far = (1 << 54) + 1
    found = mended([Incident(far, 1, RESTART)], ONE, (), 1 << 56)[0]
    assert found.until == far + 10
    assert {type(getattr(found, it)) for it in ("until", "noticed", "started")} == {int}


# ---- technicians ---------------------------------------------------------------------------------


def test_without_a_technician_nothing_is_mended() -> None:
    found = mended([Incident(0, 5, RESTART)], Crew(0), (), NIGHT)
    assert found == (Mended(noticed=5, why=NO_TURN),)


def test_the_second_fault_waits_for_the_only_technician() -> None:
    both = [Incident(0, 0, RESTART), Incident(0, 4, RESTART)]
    assert untils(both, ONE) == [9, 18]
    assert mended(both, ONE, (), NIGHT)[1].started == 9
    assert untils(both, TWO) == [9, 13]


def test_first_known_is_first_served_whatever_the_order_of_striking() -> None:
    later_known = [Incident(0, 3, RESTART), Incident(1, 1, RESTART), Incident(0, 0, RESTART)]
    assert untils(later_known, ONE) == [27, 18, 9]


def test_no_technician_free_before_the_end() -> None:
    long = Incident(0, 0, fixed("restart", 0, 0, 2 * NIGHT))
    assert whys([long, Incident(0, 1, RESTART)], ONE) == [TOO_LATE, NO_TURN]


def test_at_one_instant_the_first_of_the_incidents_goes_first() -> None:
    quick, slow = fixed("restart", 0, 0, 1), fixed("restart", 0, 0, 5)
    assert untils([Incident(3, 0, quick), Incident(0, 3, slow)], ONE) == [4, 9]
    assert untils([Incident(0, 3, slow), Incident(3, 0, quick)], ONE) == [8, 9]


def test_who_waited_goes_before_who_comes_as_the_technician_gets_free() -> None:
    first, waits, comes = Incident(0, 0, RESTART), Incident(0, 5, RESTART), Incident(0, 9, RESTART)
    assert untils([comes, first, waits], ONE) == [27, 9, 18]


# ---- spares --------------------------------------------------------------------------------------


def test_spares_run_out_and_the_technician_leaves() -> None:
    crew = Crew(1, spares={"relay": 1})
    swaps = [Incident(0, n, SWAP, "relay") for n in (0, 1)]
    assert untils([*swaps, Incident(0, 2, RESTART)], crew) == [9, None, 14 + 9]
    assert whys([*swaps, Incident(0, 2, RESTART)], crew) == ["", NO_SPARE, ""]


def test_a_stock_that_nobody_named_is_empty() -> None:
    assert whys([Incident(0, 0, SWAP, "relay")], Crew(1, spares={"card": 5})) == [NO_SPARE]


def test_a_restart_takes_no_spare_and_a_swap_without_a_stock_needs_none() -> None:
    crew = Crew(3, spares={"relay": 1})
    mixed = [Incident(0, 0, RESTART, "relay"), Incident(0, 0, SWAP), Incident(0, 1, SWAP, "relay")]
    assert untils(mixed, crew) == [9, 9, 10]


def test_the_last_spare_goes_to_whom_first_finds_that_he_needs_it() -> None:
    slow = Incident(0, 0, fixed("swap", 10, 3, 4), "relay")
    assert untils([slow, Incident(0, 5, SWAP, "relay")], Crew(2, spares={"relay": 1})) == [None, 14]


def test_at_one_instant_the_last_spare_goes_to_the_first_of_the_incidents() -> None:
    """Both find out at flick 13; he who began later stands first, then second."""
    crew = Crew(2, spares={"relay": 1})
    early, late = Incident(0, 0, fixed("swap", 0, 13, 4), "relay"), Incident(8, 0, SWAP, "relay")
    assert untils([late, early], crew) == [17, None]
    assert untils([early, late], crew) == [17, None]
    at_once = Incident(13, 0, fixed("swap", 0, 0, 4), "relay")
    assert untils([at_once, early], crew) == [17, None]
    assert untils([early, at_once], crew) == [17, None]


def test_what_would_be_found_out_after_the_end_is_not_told() -> None:
    """No spare, found at flick 100; no link from flick 102 on."""
    swap = Incident(95, 0, SWAP, "relay")
    afar = Incident(97, 0, REMOTE)
    for one, lost in ((swap, ()), (afar, [(102, None)])):
        expected = Mended(noticed=one.at, started=one.at, why=TOO_LATE)
        assert alone(one, ONE, (), NIGHT, lost) == expected
        assert mended([one], ONE, (), NIGHT, lost) == (expected,)


# ---- places --------------------------------------------------------------------------------------

IN_BREAKS = Incident(0, 0, RESTART, reach="in breaks")


def test_work_in_breaks_begins_with_the_first_break_after_arrival() -> None:
    assert untils([IN_BREAKS], ONE, [break_at(20, 60)]) == [27]
    assert untils([IN_BREAKS], ONE, [break_at(0, 60)]) == [9]
    assert untils([IN_BREAKS], ONE, [break_at(70, 80), break_at(30, 40)]) == [37]


def test_a_break_must_be_long_enough_for_all_the_work() -> None:
    assert untils([IN_BREAKS], ONE, [break_at(20, 26), break_at(50, 57)]) == [57]
    assert untils([IN_BREAKS], ONE, [break_at(0, 8), break_at(50, 57)]) == [57]
    assert untils([IN_BREAKS], ONE, [break_at(0, 9), break_at(50, 57)]) == [9]


def test_work_of_no_length_needs_an_open_break_and_a_standing_link() -> None:
    """A break ends before its end; who is free just then is too late."""
    at_once = replace(IN_BREAKS, repair=fixed("restart", 5, 0, 0))
    assert untils([at_once], ONE, [break_at(0, 5), break_at(30, 40)]) == [30]
    assert untils([at_once], ONE, [break_at(0, 6)]) == [5]
    afar = Incident(10, 0, fixed("remote", 5, 0, 0))
    assert alone(afar, ONE, (), NIGHT, [(10, 11)]).until == 15
    assert alone(afar, ONE, (), NIGHT, [(9, 10), (11, 12)]).until == 10


def test_waiting_for_a_break_binds_the_technician() -> None:
    assert untils([IN_BREAKS, Incident(0, 1, RESTART)], ONE, [break_at(20, 40)]) == [27, 36]


@pytest.mark.parametrize("breaks", [[], [break_at(20, 26)]], ids=["no break", "too short"])
def test_without_a_break_long_enough_nobody_sets_out(breaks: list[Stretch]) -> None:
    found = mended([IN_BREAKS, Incident(0, 0, RESTART)], ONE, breaks, NIGHT)
    assert found[0] == Mended(noticed=0, why=NO_WAY)
    assert found[1].until == 9


def test_what_is_reached_after_the_show_only_is_not_mended_in_a_break() -> None:
    after = replace(IN_BREAKS, reach="after the show")
    assert whys([after], ONE, [break_at(0, 90)]) == [NO_WAY]


# ---- remote restarts -----------------------------------------------------------------------------

AFAR = Incident(10, 0, REMOTE)


@pytest.mark.parametrize(
    ("lost", "until", "walked"),
    [
        ((), 17, False),
        (((0, 10),), 17, False),  # back as he begins
        (((17, 30),), 17, False),  # lost as he ends
        (((12, 12),), 17, False),  # lasts no time
        (((0, 11),), 19, True),  # walks at once: 10 + 2 + 3 + 4
        (((10, None),), 19, True),
        (((13, 14),), 22, True),  # walks from 13, though the link is back
        (((16, 40), (14, 15)), 23, True),
    ],
)
def test_a_remote_restart_needs_the_link_throughout(
    lost: tuple[tuple[int, int | None], ...], until: int, walked: bool
) -> None:
    expected = Mended(until, 10, 10, None, walked)
    assert mended([AFAR], ONE, (), NIGHT, lost) == (expected,)
    assert alone(AFAR, ONE, (), NIGHT, lost) == expected


def test_a_crew_without_a_control_link_goes_there() -> None:
    assert mended([AFAR], Crew(1), (), NIGHT) == (Mended(19, 10, 10),)


def test_only_who_walks_needs_the_place_to_be_open() -> None:
    """From afar also after the show; without the link in a break, or not at all."""
    for reach in ("in breaks", "after the show"):
        assert alone(replace(AFAR, reach=reach), ONE, (), NIGHT).until == 17
    there = replace(AFAR, reach="in breaks")
    assert alone(there, ONE, [break_at(40, 60)], NIGHT, [(13, 14)]).until == 47
    found = mended([there, Incident(11, 0, RESTART)], ONE, (), NIGHT, [(13, 14)])
    assert found == (Mended(noticed=10, started=10, why=NO_WAY), Mended(22, 11, 13))


def test_the_link_is_looked_at_when_a_technician_is_free() -> None:
    pair = [Incident(0, 0, RESTART), Incident(0, 0, REMOTE)]
    assert mended(pair, ONE, (), NIGHT, [(0, 9)])[1] == Mended(16, 0, 9)
    assert mended(pair, ONE, (), NIGHT, [(9, 10)])[1] == Mended(18, 0, 9, walked=True)


# ---- the wrong unit ------------------------------------------------------------------------------


def test_the_wrong_unit_costs_the_work_twice_and_is_reported() -> None:
    crew = Crew(1, wrong_unit=0.1)
    errs = Incident(10, 0, RESTART, wrong=0.05)
    assert mended([errs], crew, (), NIGHT) == (Mended(10 + 2 + 14, 10, 10, wrong=15),)
    assert mended([replace(errs, wrong=0.1)], crew, (), NIGHT) == (Mended(19, 10, 10),)
    assert alone(replace(errs, at=NIGHT - 5), crew, (), NIGHT).wrong is None


def test_a_break_must_hold_the_work_on_the_wrong_unit_too() -> None:
    errs = replace(IN_BREAKS, wrong=0.0)
    breaks = [break_at(10, 23), break_at(50, 64)]
    assert alone(errs, Crew(1, wrong_unit=0.5), breaks, NIGHT) == Mended(64, 0, 0, 53)


def test_nobody_errs_twice_when_the_link_is_lost() -> None:
    crew, errs = replace(ONE, wrong_unit=0.5), replace(AFAR, wrong=0.0)
    assert alone(errs, crew, (), NIGHT, [(14, 15)]) == Mended(14 + 9, 10, 10, 13, True)
    assert alone(errs, crew, (), NIGHT, [(13, 15)]) == Mended(13 + 2 + 14, 10, 10, 18, True)


# ---- what cannot be ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("incident", "crew", "length", "message"),
    [
        (replace(IN_BREAKS, reach="at night"), ONE, NIGHT, "in breaks"),
        (Incident(0, 0, fixed("magic", 1, 1, 1)), ONE, NIGHT, "swap, restart, remote"),
        (Incident(0, -1, RESTART), ONE, NIGHT, "0 or more"),
        (Incident(0, 0, RESTART, draws=(0, 1.5, 0)), ONE, NIGHT, "from 0 to below 1"),
        (Incident(0, 0, RESTART), Crew(-1), NIGHT, "none or more"),
        (Incident(0, 0, RESTART), Crew(1, spares={"card": -1}), NIGHT, "none or more"),
        (Incident(0, 0, RESTART), ONE, 0, "at least one"),
    ],
)
def test_what_cannot_be_is_refused(
    incident: Incident, crew: Crew, length: int, message: str
) -> None:
    for ask in (
        lambda: alone(incident, crew, (), length),
        lambda: mended([incident], crew, (), length),
    ):
        with pytest.raises(ValueError, match=message):
            ask()


# ---- against a second program, tick by tick ------------------------------------------------------

TIMES = st.integers(0, 12)
SOME = st.integers(1, 12)
SPANS = st.tuples(st.integers(-5, 60), st.none() | st.integers(0, 20)).map(
    lambda it: (it[0], None if it[1] is None else it[0] + it[1])
)
BREAKS = st.lists(
    st.tuples(st.integers(0, 60), SOME).map(lambda it: break_at(it[0], sum(it))), max_size=4
)
LOST = st.lists(SPANS, max_size=3)
LENGTHS = st.integers(1, 80)


def repairs(least: int) -> st.SearchStrategy[Repair]:
    parts = st.integers(least, 12)
    return st.builds(fixed, st.sampled_from(["swap", "restart", "remote"]), TIMES, parts, parts)


def incidents(least: int) -> st.SearchStrategy[Incident]:
    return st.builds(
        Incident,
        at=st.integers(-5, 40),
        noticed=st.none() | TIMES,
        repair=st.none() | repairs(least),
        spare=st.sampled_from(["", "card", "relay"]),
        reach=st.sampled_from(["always", "always", "in breaks", "after the show"]),
        wrong=st.floats(0, 1, exclude_max=True),
    )


CREWS = st.builds(
    Crew,
    technicians=st.integers(0, 3),
    spares=st.dictionaries(st.sampled_from(["card", "relay"]), st.integers(0, 2)),
    control=st.sampled_from(["", "desk line", "desk line"]),
    wrong_unit=st.sampled_from([0.0, 0.3]),
)


@given(incidents(0), CREWS, BREAKS, LENGTHS, LOST)
@example(IN_BREAKS, ONE, [break_at(2, 9)], 10, [])
def test_one_fault_alone_fares_as_in_the_simulation(
    incident: Incident,
    crew: Crew,
    breaks: list[Stretch],
    length: int,
    lost: list[tuple[int, int | None]],
) -> None:
    expected = mended([incident], crew, breaks, length, lost)[0]
    assert alone(incident, crew, breaks, length, lost) == expected


@given(st.lists(incidents(0), min_size=2, max_size=4), CREWS, BREAKS, LENGTHS, LOST)
def test_faults_that_need_not_wait_fare_as_in_the_simulation(
    several: list[Incident],
    crew: Crew,
    breaks: list[Stretch],
    length: int,
    lost: list[tuple[int, int | None]],
) -> None:
    found = undisturbed(several, crew, breaks, length, lost)
    assert found in (None, mended(several, crew, breaks, length, lost))


def test_faults_that_wait_for_each_other_are_simulated() -> None:
    both = [Incident(0, 0, RESTART), Incident(0, 0, RESTART)]
    assert undisturbed(both, ONE, (), NIGHT) is None, "one technician"
    assert undisturbed(both, TWO, (), NIGHT) == mended(both, TWO, (), NIGHT)
    swaps = [Incident(0, 0, SWAP, "card"), Incident(0, 0, SWAP, "card")]
    one_card = replace(TWO, spares={"card": 1})
    assert undisturbed(swaps, one_card, (), NIGHT) is None, "one spare"
    unseen = [Incident(0, None, RESTART), Incident(0, 0, RESTART)]
    assert undisturbed(unseen, ONE, (), NIGHT) == mended(unseen, ONE, (), NIGHT)


@dataclass
class Way:
    """What a technician does, found out tick by tick."""

    found: int | None
    end: int
    wrong: int | None
    walked: bool


FAR = 400
"""Ticks after which nothing happens any more."""


def ticks(repair: Repair) -> tuple[int, int, int]:
    return repair.travel.a, repair.diagnose.a, repair.fix.a


def link_stands(tick: int, lost: Sequence[tuple[int, int | None]]) -> bool:
    return not any(a <= tick < (FAR * 2 if b is None else b) for a, b in lost)


def way_of(
    incident: Incident,
    repair: Repair,
    crew: Crew,
    now: int,
    breaks: Sequence[Stretch],
    lost: Sequence[tuple[int, int | None]],
) -> Way:
    travel, diagnose, fix = ticks(repair)
    errs, far = incident.wrong < crew.wrong_unit, repair.by == "remote" and bool(crew.control)
    work, tick, erred, wrong = (diagnose + fix) * (1 + errs), now, False, None
    if far:
        while tick < now + work and link_stands(tick, lost):
            if errs and tick - now == diagnose:
                erred, wrong = True, tick
            tick += 1
        if tick == now + work:
            return Way(tick - fix, tick, wrong, False)
    work = diagnose + fix if erred else work
    for begin in range(tick + travel, FAR):
        at_work = range(begin, begin + work)
        open_there = incident.reach == "always" or (
            incident.reach == "in breaks"
            and any(all(b.begin <= t < b.end for t in at_work) for b in breaks)
        )
        if open_there:
            if errs and not erred:
                wrong = begin + diagnose
            return Way(begin + work - fix, begin + work, wrong, far)
    return Way(None, tick, wrong, False)


def by_ticks(
    many: Sequence[Incident],
    crew: Crew,
    breaks: Sequence[Stretch],
    length: int,
    lost: Sequence[tuple[int, int | None]],
) -> list[tuple[int | None, int | None]]:
    """When each fault ends, and when a healthy unit is restarted for it."""
    free, stock, queue = crew.technicians, dict(crew.spares), list[int]()
    busy: dict[int, Way] = {}
    until: list[int | None] = [None for _ in many]
    wrong: list[int | None] = [None for _ in many]
    for now in range(length):
        for n in sorted(busy):
            one, way = many[n], busy[n]
            if way.found == now and one.spare and one.repair and one.repair.by == "swap":
                if not stock.get(one.spare):
                    busy.pop(n)
                    free += 1
                    continue
                stock[one.spare] -= 1
            if way.end == now:
                until[n] = None if way.found is None else now
                busy.pop(n)
                free += 1
        for n, one in enumerate(many):
            if one.noticed is not None and one.repair and max(one.at, 0) + one.noticed == now:
                queue.append(n)
        while free and queue:
            n = queue.pop(0)
            one = many[n]
            assert one.repair is not None
            way = way_of(one, one.repair, crew, now, breaks, lost)
            wrong[n] = way.wrong if way.wrong is not None and way.wrong < length else None
            if way.end > now:
                busy[n] = way
                free -= 1
    return list(zip(until, wrong, strict=True))


MANY = st.lists(incidents(1), max_size=8)


@given(MANY, CREWS, BREAKS, LENGTHS, LOST)
def test_many_faults_against_oracle(
    many: list[Incident],
    crew: Crew,
    breaks: list[Stretch],
    length: int,
    lost: list[tuple[int, int | None]],
) -> None:
    found = mended(many, crew, breaks, length, lost)
    assert [(it.until, it.wrong) for it in found] == by_ticks(many, crew, breaks, length, lost)


@given(MANY, CREWS, BREAKS, LENGTHS, LOST)
def test_what_is_said_of_a_fault_fits_together(
    many: list[Incident],
    crew: Crew,
    breaks: list[Stretch],
    length: int,
    lost: list[tuple[int, int | None]],
) -> None:
    for it in mended(many, crew, breaks, length, lost):
        assert bool(it.why) == (it.until is None)
        known = [t for t in (it.noticed, it.started, it.wrong, it.until) if t is not None]
        assert known == sorted(known)
        assert all(0 <= t < length for t in known)
        assert all(type(getattr(it, f.name)) in (int, bool, str, type(None)) for f in fields(it))


def test_the_oracle_notices_a_second_technician_and_one_spare_more() -> None:
    """What it is held against can fail."""
    many = [Incident(0, n, SWAP, "card") for n in range(4)]
    true = Crew(1, spares={"card": 2})
    truth = by_ticks(many, true, (), NIGHT, ())
    for false in (replace(true, technicians=2), replace(true, spares={"card": 3})):
        found = mended(many, false, (), NIGHT)
        assert [(it.until, it.wrong) for it in found] != truth
