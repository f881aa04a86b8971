"""Faults as people write them on one line, and what is said when they do not make sense.

In: texts, a small rig at 60 frames a second that starts at 20:00:00:00. Out: exact faults; one
message for each mistake, all of them together.
"""

from __future__ import annotations

import pytest

from sim.errors import InputError
from sim.faults import Fault
from sim.study.fault_text import parse_fault, parse_faults
from sim.study.strikes import FLAP_PERIOD
from sim.timebase import FLICKS, rate
from tests.labs import rig_of
from tests.plans import FRAME, main

RIG = rig_of(main("relay-pair"))
RATE, START = rate("60"), "20:00:00:00"
MARGIN = RIG.things["main/trunk-main-1"].margin


def faults(text: str) -> tuple[Fault, ...]:
    return parse_fault(text, RIG, RATE, START)


GOOD = {
    "dead main/unit-a": Fault("main/unit-a", "dead", 0),
    "dead main/unit-a at 250 ms": Fault("main/unit-a", "dead", FLICKS // 4),
    "dead main/unit-a at 7 frames": Fault("main/unit-a", "dead", 7 * FRAME),
    "dead main/unit-a at 20:00:05:03": Fault("main/unit-a", "dead", 5 * FLICKS + 3 * FRAME),
    "dead main/unit-a at 1 s for 2 s": Fault("main/unit-a", "dead", FLICKS, 3 * FLICKS),
    "dead main/unit-a before the show": Fault("main/unit-a", "dead", -1),
    "stuck main/unit-a hard at 1 s": Fault("main/unit-a", "stuck", FLICKS, hard=True),
    "restart main/relay-main": Fault("main/relay-main", "restart", 0),
    "flapping main/trunk-main-1": Fault(
        "main/trunk-main-1", "flapping", 0, period=FLAP_PERIOD, off=FLAP_PERIOD // 2
    ),
    "flapping main/trunk-main-1 every 3 s off 1 s": Fault(
        "main/trunk-main-1", "flapping", 0, period=3 * FLICKS, off=FLICKS
    ),
    "flapping main/trunk-main-1 every 3 s": Fault(
        "main/trunk-main-1", "flapping", 0, period=3 * FLICKS, off=3 * FLICKS // 2
    ),
    "attenuated main/trunk-main-1 by 2.5 dB": Fault(
        "main/trunk-main-1", "attenuated", 0, loss=2500
    ),
    "attenuated main/trunk-main-1": Fault("main/trunk-main-1", "attenuated", 0, loss=MARGIN + 500),
    "drops cam losing 3 frames": Fault("cam", "drops", 0, frames=3),
    "drops cam": Fault("cam", "drops", 0, frames=1),
    "moved main/unit-a to all": Fault("main/unit-a", "moved", 0, choice="all"),
    "moved main/unit-a#layer camera to spare-cam/to-main/unit-a>": Fault(
        "main/unit-a#layer camera", "moved", 0, choice=1
    ),
    "  dead   main/unit-a   at 1 s ": Fault("main/unit-a", "dead", FLICKS),
}


@pytest.mark.parametrize("text", GOOD)
def test_a_text_means_exactly_this_fault(text: str) -> None:
    assert faults(text) == (GOOD[text],)


def test_a_pattern_means_every_thing_it_matches() -> None:
    found = faults("dead main/r1c*/receiver at 1 s")
    assert [f.thing for f in found] == [f"main/r1c{c}/receiver" for c in range(1, 5)]
    assert {(f.mode, f.at) for f in found} == {("dead", FLICKS)}


def test_a_route_means_every_cable_on_it() -> None:
    (found,) = faults("cut route north for 1 s")
    assert found == Fault("main/trunk-main-1", "cut", 0, FLICKS)


BAD = {
    "broken main/unit-a": ("no fault mode", "dead"),
    "ded main/unit-a": ("no fault mode", "nearest: dead"),
    "dead": ("names no thing",),
    "dead main/unit-x": ("there is no 'main/unit-x'", "nearest: main/unit-a"),
    "cut main/unit-a": ("can be cut",),
    "cut route west": ("no cable lies on route 'west'", "north"),
    "dead main/unit-a at 11 s": ("after the end of the show",),
    "dead main/unit-a at 10 s": ("after the end of the show",),
    "dead main/unit-a for 0 s": ("lasts 0 s",),
    "restart main/unit-a before the show": ("before the show",),
    "flapping main/trunk-main-1 every 1 s off 1 s": ("never",),
    "flapping main/trunk-main-1 every 1 s off 0 s": ("never",),
    "attenuated main/trunk-main-1 by 3": ("loses '3'", "unit"),
    "attenuated main/trunk-main-1 by 0 dB": ("loses '0 dB'",),
    "drops cam losing 0": ("loses '0'",),
    "flapping cam every 100 us": ("comes and goes 100000 times", "at most 20000 times"),
    "moved main/unit-a": ("to 'nothing'", "show"),
    "moved main/unit-a to al": ("to 'al'", "nearest: all"),
    "dead main/unit-a at soon": ("soon",),
    "dead main/unit-a at 5": ("5",),
}


@pytest.mark.parametrize("text", BAD)
def test_a_mistake_has_one_message_that_says_what_and_where(text: str) -> None:
    with pytest.raises(InputError) as caught:
        faults(text)
    assert len(caught.value.problems) == 1
    assert caught.value.exit_status == 2
    message = str(caught.value)
    assert all(part in message for part in BAD[text]), message


UNMEANT = {
    "cut a whole route as if it were dead": "dead route north",
    "a word that the mode does not use": "dead main/unit-a by 3 dB",
    "a word said twice": "dead main/unit-a at 1 s at 2 s",
    "a word without its value": "dead main/unit-a at",
    "before the show and at a time": "dead main/unit-a before the show at 1 s",
}


@pytest.mark.parametrize("what", UNMEANT)
def test_what_cannot_be_meant_is_refused_rather_than_read_past(what: str) -> None:
    with pytest.raises(InputError):
        faults(UNMEANT[what])


def test_every_mistake_of_several_texts_is_told_at_once() -> None:
    texts = ["dead main/unit-a", "ded main/unit-a", "dead main/unit-x"]
    with pytest.raises(InputError) as caught:
        parse_faults(texts, RIG, RATE, START)
    assert len(caught.value.problems) == 2
    assert parse_faults(texts[:1], RIG, RATE, START) == (Fault("main/unit-a", "dead", 0),)


def test_drop_frame_time_codes_are_read_by_the_rate() -> None:
    """00:01:00;02 follows 00:00:59;29 (SMPTE ST 12-1; secondary source read)."""
    drop = rate("29.97")
    rig = rig_of(main("relay-pair", rows=1, columns=1))
    (found,) = parse_fault("dead main/unit-a at 00:00:05;03", rig, drop, "00:00:00;00")
    assert found.at == (5 * 30 + 3) * drop.frame
