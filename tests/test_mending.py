"""Who notices what when, which repair counts, and when what strikes in a show ends.

In: a rig by hand with two cabinets, its links, crews. Times in the tests are seconds, worked out by
hand; uniform numbers are 0 unless they are given, so that each law gives its least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from sim.faults import Fault
from sim.rig.terms import Crew, Law, Repair
from sim.rig.topology import Rig, Select, Thing
from sim.risk.hazards import Hazard
from sim.risk.mending import Mending, mending
from sim.risk.scenes import Scenes, Struck
from sim.risk.shows import Blow
from sim.scenario.scenario import Stretch
from sim.study.strikes import Strike
from sim.timebase import FLICKS, fixed
from tests.handmade import HEAD, handmade
from tests.test_scenes import TERMS

SECONDS = 1000
LINKS = [
    ("main", "main", (HEAD,)),
    ("spare", "spare", (HEAD,)),
    ("relay", "relay", ("main", "spare")),
    ("slow", "slow", ("main", "spare")),
]
ENDS = {"a": ("relay",), "b": ("slow",)}
SLOW = 8
"""Seconds for which the last link goes on looking at what is gone."""


def rig(**changed: dict[str, object]) -> Rig:
    """`changed`: other fields of things, by name."""
    made = handmade(LINKS, ENDS, SECONDS)
    slow = made.nodes["slow"]
    assert isinstance(slow, Select)
    waits = replace(slow, selector=replace(slow.selector, detect="slow"))
    net = Thing("net", "control-link", group="wall")
    things = {name: replace(t, **changed.get(name, {})) for name, t in made.things.items()}  # type: ignore[arg-type]
    return replace(
        made,
        nodes={**made.nodes, "slow": waits},
        things={**things, "net": net},
        timings={"slow": fixed(SLOW * FLICKS)},
    )


def hazard(where: str, mode: str = "dead", **more: object) -> Hazard:
    made = Hazard(f"{where} {mode}", (Strike(where, mode, (Fault(where, mode, 0),), where),), 0.1)
    return replace(made, **more)  # type: ignore[arg-type]


def secs(kind: str, least: float, most: float = 0.0) -> Law:
    return Law(kind, round(least * FLICKS), round(most * FLICKS))


NONE, FIX = secs("fixed", 0), secs("fixed", 100)


def repair(by: str = "restart", fix: Law = FIX, **of: object) -> Repair:
    return replace(Repair(by, NONE, NONE, fix), **of)  # type: ignore[arg-type]


EVERYTHING = (repair(things="*"),)


def ready(
    hazards: Sequence[Hazard],
    crew: Crew | None = None,
    of: Rig | None = None,
    breaks: Sequence[Stretch] = (),
    reach: str = "always",
) -> Mending:
    of = of or rig()
    scenes = Scenes(of, "wall", hazards, TERMS)
    return mending(scenes, of, crew or Crew(9, EVERYTHING), breaks, {"": reach})


def ends(of: Mending, *times: float, u: float = 0.0, wrong: float = 0.99) -> list[float | None]:
    """When the hazards end that strike one after the other at these seconds (-1: before)."""
    found = ended(of, times, u, wrong)
    return [None if one.end is None else one.end / FLICKS for one in found[: len(times)]]


def ended(of: Mending, times: Sequence[float], u: float = 0.0, wrong: float = 0.99) -> list[Struck]:
    struck = [Struck(n, round(t * FLICKS) if t >= 0 else -1) for n, t in enumerate(times)]
    blows = [Blow(n, (0.0, u, 0.0, 0.0, 0.0, wrong)) for n in range(len(times))]
    return of.endings(struck, blows)


# ---- who notices what when -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("where", "mode", "least", "middle"),
    [
        ("unit", "dead", 1, 2),  # the whole wall dark: 1 to 3 s
        ("unit", "blanked", 1, 2),
        ("a", "dead", 5, 32.5),  # part of it: 5 to 60 s
        ("camera", "stuck", 2, 11),  # a moving picture that stands still: 2 to 20 s
        ("camera", "stale", 2, 11),  # a wrong one
    ],
)
def test_the_audience_s_eye_by_hand(where: str, mode: str, least: float, middle: float) -> None:
    """Common practice, no source: from when it can be seen, by the worst of it."""
    of = ready([hazard(where, mode)])
    assert ends(of, 50) == [50 + least + 100]
    assert ends(of, 50, u=0.5) == [50 + middle + 100]


def test_what_nobody_sees_is_never_mended_unless_it_is_monitored() -> None:
    assert ends(ready([hazard("spare")]), 50, u=0.5) == [None]
    watched = ready([hazard("spare")], of=rig(spare={"monitored": True}))
    assert ends(watched, 50, u=0.5) == [50 + 3 + 100]  # an alarm: 1 to 5 s


def test_an_alarm_or_an_eye_whichever_is_first() -> None:
    """At half: the alarm tells after 3 s; a whole dark wall is seen after 2, one cabinet after
    32.5.
    """
    watched = rig(a={"monitored": True}, unit={"monitored": True})
    assert ends(ready([hazard("a")], of=watched), 0, u=0.5) == [103]
    assert ends(ready([hazard("unit")], of=watched), 0, u=0.5) == [102]


def test_a_blink_that_is_over_before_anybody_looks_is_not_noticed() -> None:
    """Cabinet b is dark for 8 s when the main link dies; it catches the eye after 5 to 60 s."""
    of = ready([hazard("main")])
    assert ends(of, 50) == [50 + 5 + 100]
    assert ends(of, 50, u=0.05) == [pytest.approx(50 + 7.75 + 100)]
    assert ends(of, 50, u=0.06) == [None]


def test_what_was_there_before_is_seen_from_the_start() -> None:
    assert ends(ready([hazard("a", early=True)]), -1) == [5 + 100]
    settled = ready([hazard("main", early=True)])  # nobody saw the 8 s before the show
    assert ends(settled, -1) == [None]


def test_a_loose_contact_is_noticed_while_it_goes_on() -> None:
    fault = Fault("a", "flapping", 0, period=2 * FLICKS, off=FLICKS)
    loose = Hazard("a loose", (Strike("a", "flapping", (fault,), "a"),), 0.1)
    assert ends(ready([loose]), 50, u=0.5) == [50 + 32.5 + 100]


def test_what_is_mended_after_the_show_does_not_end() -> None:
    of = ready([hazard("a")])
    assert ends(of, SECONDS - 105) == [None]
    assert ends(of, SECONDS - 106) == [SECONDS - 1]
    assert ends(of, SECONDS - 3) == [None]


# ---- which repair counts -------------------------------------------------------------------------


def lasts(*repairs: Repair, where: str = "a", mode: str = "dead", of: Rig | None = None) -> object:
    """Seconds from notice to the end."""
    made = ready([hazard(where, mode)], Crew(1, repairs), of)
    (end,) = ends(made, 0)
    return None if end is None else end - 5


def test_the_first_repair_that_fits_counts() -> None:
    ten, twenty = secs("fixed", 10), secs("fixed", 20)
    by_name, by_family = repair(fix=ten, things="a"), repair(fix=twenty, family="receiver")
    assert lasts(by_name, by_family) == 10 and lasts(by_family, by_name) == 20
    assert lasts(repair(fix=ten, things="b"), by_family) == 20
    assert lasts(repair(fix=ten, things="[ab]")) == 10
    assert lasts(repair(fix=ten, family="processor")) is None
    assert lasts(repair(fix=ten, things="a", modes=("stuck",)), by_family) == 20
    assert lasts(repair(fix=ten, things="a", modes=("stuck", "dead"))) == 10
    typed = rig(a={"kit": "card"})
    assert lasts(repair(fix=ten, kit="card"), of=typed) == 10
    assert lasts(repair(fix=ten, kit="card")) is None
    assert lasts(repair(fix=ten), of=typed) is None


def test_without_technicians_or_repairs_nothing_ends() -> None:
    assert ends(ready([hazard("a")], Crew(0, EVERYTHING)), 0) == [None]
    assert ends(ready([hazard("a")], Crew(3)), 0) == [None]


def test_a_restart_mends_itself_and_nobody_comes() -> None:
    busy = ready([hazard("b", "restart"), hazard("a")], Crew(1, EVERYTHING))
    assert ends(busy, 0, 0) == [None, 105]


# ---- spares, places, turns -----------------------------------------------------------------------


def test_a_spare_is_of_the_type_or_else_of_the_family() -> None:
    swap = (repair("swap", things="*"),)
    typed = rig(a={"kit": "card"}, b={"kit": "card"})
    both = [hazard("a"), hazard("b")]
    assert ends(ready(both, Crew(2, swap, {"card": 2}), typed), 0, 0) == [105, 105]
    assert ends(ready(both, Crew(2, swap, {"card": 1}), typed), 0, 1) == [105, None]
    assert ends(ready(both, Crew(2, swap, {"card": 1, "receiver": 1}), typed), 0, 1) == [105, None]
    assert ends(ready(both, Crew(2, swap, {"receiver": 1}), typed), 0, 1) == [105, None]
    assert ends(ready(both, Crew(2, swap, {"other": 5}), typed), 0, 0) == [None, None]
    assert ends(ready(both, Crew(2, EVERYTHING), typed), 0, 0) == [105, 105]  # a restart takes none


def test_one_technician_mends_one_after_the_other() -> None:
    both = [hazard("a"), hazard("b")]
    assert ends(ready(both, Crew(1, EVERYTHING)), 0, 20) == [105, 205]
    assert ends(ready(both, Crew(2, EVERYTHING)), 0, 20) == [105, 125]


def test_a_place_may_be_reached_in_a_break_only_or_never() -> None:
    pause = (Stretch("pause", 300 * FLICKS, 420 * FLICKS),)
    short = (Stretch("pause", 300 * FLICKS, 390 * FLICKS),)
    one = [hazard("a")]
    assert ends(ready(one, breaks=pause, reach="in breaks"), 0) == [400]
    assert ends(ready(one, breaks=short, reach="in breaks"), 0) == [None]
    assert ends(ready(one, breaks=pause, reach="after the show"), 0) == [None]
    unknown = ready(one, of=rig(a={"place": "truss"}), breaks=pause)
    assert ends(unknown, 0) == [None]  # of a place that nobody named: the unfavourable way


def test_a_lost_control_link_costs_a_walk() -> None:
    """A remote restart takes no travel (60 s); without the link, or a crew's control, it does."""
    remote = (Repair("remote", secs("fixed", 60), NONE, FIX, things="[abu]*"),)
    far = [hazard("a"), hazard("net", "cut")]
    assert ends(ready(far, Crew(1, remote, control="net")), 0) == [105]
    assert ends(ready(far, Crew(1, remote)), 0) == [165]
    assert ends(ready(far, Crew(1, remote, control="net")), 0, 0) == [165, None]
    assert ends(ready(far, Crew(1, remote, control="net")), 0, 45) == [45 + 60 + 100, None]
    assert ends(ready(far, Crew(1, remote, control="net")), 0, 300) == [105, None]


# ---- mistakes, shared causes ---------------------------------------------------------------------


def test_the_wrong_unit_restarts_a_healthy_twin() -> None:
    """He diagnoses (10 s), restarts the twin, and begins afresh: 110 s twice."""
    long = (Repair("restart", NONE, secs("fixed", 10), FIX, family="receiver"),)
    hazards = [hazard("a"), hazard("b", "restart"), hazard("a", "restart")]
    of = ready(hazards, Crew(1, long, wrong_unit=0.3))
    assert ended(of, [0], wrong=0.31) == [Struck(0, 0, 115 * FLICKS)]
    assert ended(of, [0], wrong=0.29) == [Struck(0, 0, 225 * FLICKS), Struck(1, 15 * FLICKS)]
    alone = ready([hazard("unit"), *hazards[1:]], Crew(1, EVERYTHING, wrong_unit=1.0))
    assert len(ended(alone, [0], wrong=0.0)) == 1  # no other processor that could be restarted
    swaps = Crew(1, (repair("swap", things="*"),), {"receiver": 1}, wrong_unit=1.0)
    assert len(ended(ready(hazards, swaps), [0], wrong=0.0)) == 1  # a swap restarts nothing


def test_a_shared_cause_ends_of_itself_when_it_says() -> None:
    """Nobody mends it, and it needs nobody."""
    rain = hazard("a", lasts=40 * FLICKS)
    assert ends(ready([rain]), 0) == [40]
    assert ends(ready([rain], Crew(0)), 10) == [50]
    assert ends(ready([rain]), -1) == [40]
    assert ends(ready([rain]), SECONDS - 40) == [None]
    assert ends(ready([rain, hazard("b")], Crew(1, EVERYTHING)), 0, 0) == [40, 105]


def test_nothing_struck_nothing_mended() -> None:
    assert ready([hazard("a")]).endings([], []) == []
    assert Fraction(SECONDS) == Fraction(rig().length, FLICKS)
