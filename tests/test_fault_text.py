"""Faults as people write them on one line, and what is said when they do not make sense.

In: texts, a small rig at 60 frames a second that starts at 20:00:00:00. Out: exact faults; one
message for each mistake, all of them together.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.faults import MODES, Fault
from sim.rig.topology import Thing
from sim.scenario.loader import load
from sim.spoken import spoken
from sim.study.fault_text import EVERY_MODE, parse_fault, parse_faults
from sim.study.fault_writing import fault_line
from sim.study.strikes import FLAP_PERIOD, strikes
from sim.study.study import rig_of as rig_from
from sim.timebase import FLICKS, rate
from tests.labs import rig_of
from tests.plans import FRAME, main
from tests.seen_rigs import stage

RIG = rig_of(main("relay-pair"))
RATE, START = rate("60"), "20:00:00:00"
KNOWN = spoken(RIG)
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
    "dead main/unit-a for ever": Fault("main/unit-a", "dead", 0),
    "dead main/unit-a at 1 s for ever": Fault("main/unit-a", "dead", FLICKS),
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
    "broken main/unit-a": ("no fault mode", "nearest: dead"),
    "black main/unit-a": ("no fault mode", "nearest: blanked"),
    "Frozen main/unit-a": ("no fault mode", "nearest: stuck"),
    "Dead main/unit-a": ("no fault mode", "nearest: dead"),
    "main/unit-a": ("no fault mode", "in one pair of quotes"),
    "ded main/unit-a": ("no fault mode", "nearest: dead"),
    "dead": ("names no thing", "in one pair of quotes"),
    "dead at 1 s": ("names no thing",),
    "dead main/UNIT-A": ("there is no 'main/UNIT-A'", "nearest: main/unit-a"),
    "restart main/unit-a for 3 s": ("says 'for', which restart has not",),
    "drops cam for 3 s": ("says 'for', which drops has not",),
    "dead main/unit-x": ("there is no 'main/unit-x'", "nearest: main/unit-a"),
    "cut main/unit-a": ("can be cut", "its modes: dead, blanked, stuck"),
    "dead route north": ("can be dead", "its modes: cut"),
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


# ---- names


WORDY = {
    "cut desk to units": "desk to units",
    "cut desk to units at 1 s": "desk to units",
    "dead hard disk at home at 1 s": "hard disk at home",
    "dead hard disk": "hard disk",
    "dead stand by": "stand by",
    "dead off": "off",
    "dead  far  away  at 1 s": "far  away",
    "cut desk to *": "desk to units",
}
"""Names that hold the words of the grammar: the text of a fault and the thing that it means."""


def _renamed(names: Mapping[str, str]) -> dict[str, Thing]:
    """Copies of things under other names."""
    return {**RIG.things, **{new: replace(RIG.things[old], name=new) for new, old in names.items()}}


def test_names_may_hold_any_word_and_the_longest_name_is_meant() -> None:
    names = {
        "desk to units": "main/trunk-main-1",
        "desk": "main/unit-a",
        "off": "cam",
        "far  away": "cam",
    }
    names |= dict.fromkeys(("hard disk", "hard disk at home", "stand by"), "main/unit-a")
    rig = replace(RIG, things=_renamed(names))
    for text, thing in WORDY.items():
        at = FLICKS if text.endswith("at 1 s") else 0
        assert parse_fault(text, rig, RATE, START) == (Fault(thing, text.split()[0], at),), text


def test_a_longer_name_that_cannot_have_the_mode_does_not_hide_a_shorter_one() -> None:
    """`moved desk to all` is about the desk, though there is a thing called `desk to all`."""
    rig = replace(RIG, things=_renamed({"main/unit-a to all": "main/trunk-main-1"}))
    moved = Fault("main/unit-a", "moved", 0, choice="all")
    assert parse_fault("moved main/unit-a to all", rig, RATE, START) == (moved,)


SAID = {
    "cut cable cam to main/unit-a at 1 s": "cut cam/to-main/unit-a at 1 s",
    "dead unit-a": "dead main/unit-a",
    "dead scaling unit A for 2 s": "dead main/unit-a for 2 s",
    "cut trunk-main-1": "cut main/trunk-main-1",
    "cut trunk-main": "cut main/trunk-main-1",
    "cut main/chain-1 head cable": "cut main/chain-1/head",
    "cut north": "cut route north",
    "attenuated north by 2 dB": "attenuated route north by 2 dB",
    "moved input of layer camera of main/unit-a to cable spare-cam to main/unit-a at 1 s":
        "moved main/unit-a#layer camera to spare-cam/to-main/unit-a> at 1 s",
    "moved main/unit-a#layer camera  to  spare-cam ":
        "moved main/unit-a#layer camera to spare-cam/to-main/unit-a>",
    "moved main/unit-a#layer camera at 1 s to spare-cam/to-main/unit-a":
        "moved main/unit-a#layer camera to spare-cam/to-main/unit-a> at 1 s",
}  # fmt: skip


@pytest.mark.parametrize("text", SAID)
def test_the_names_that_reports_print_are_understood(text: str) -> None:
    assert parse_fault(text, RIG, RATE, START, KNOWN) == faults(SAID[text])


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("dead receiver", ("may be any of 12", "main/r1c1/receiver", "and 8 more", "pattern")),
        ("cut head cable", ("may be any of", "main/chain-1/head, main/chain-2/head")),
        ("cut cable cam to main/unit-x", ("there is no", "nearest: cable cam to main/unit-a")),
    ],
)
def test_a_name_that_may_mean_several_is_refused_with_all_of_them(
    text: str, parts: tuple[str, ...]
) -> None:
    with pytest.raises(InputError) as caught:
        parse_fault(text, RIG, RATE, START, KNOWN)
    assert [part for part in parts if part not in str(caught.value)] == []


def test_a_route_and_a_thing_of_one_name_are_told_apart_by_the_mode_or_refused() -> None:
    rig = replace(RIG, things=_renamed({"north": "main/unit-a"}))
    assert parse_fault("dead north", rig, RATE, START) == (Fault("north", "dead", 0),)
    (cut,) = parse_fault("cut north", rig, RATE, START)
    assert cut.thing == "main/trunk-main-1"
    both = {"north": ("main/trunk-backup-1",)}
    with pytest.raises(InputError, match="main/trunk-backup-1, route north"):
        parse_fault("cut north", RIG, RATE, START, both)


@pytest.mark.parametrize("name", ["first", "river", "studio", "atrium"])
def test_every_printed_name_of_a_shipped_rig_means_its_thing_or_is_refused(name: str) -> None:
    scenario = load(f"scenarios/{name}.yaml")
    _, rig, _ = rig_from(scenario, next(iter(scenario.offered.values())))
    assert rig is not None
    known = spoken(rig)
    tried = 0
    for called, of in known.items():
        if len(of) == 1 and of[0] in rig.things and called not in rig.things:
            (mode, *_) = (m for m in rig.things[of[0]].modes if m != "moved")
            found = parse_fault(f"{mode} {called} at 1 s", rig, scenario.rate, "", known)
            assert [fault.thing for fault in found] == list(of)
            tried += 1
    assert tried > 10


@pytest.mark.parametrize("rest", ["", " at 5 s", " hard", " before the show"])
def test_a_fault_as_reports_print_it_means_the_same(rest: str) -> None:
    for thing, mode in (("main/unit-a", "dead"), ("route north", "cut"), ("main/unit-a", "stuck")):
        meant = faults(f"{mode} {thing}{rest}")
        assert faults(f"{thing} {mode}{rest}") == faults(f"{thing}: {mode}{rest}") == meant


def test_a_circuit_is_known_as_reports_print_it() -> None:
    scenario = load("scenarios/first.yaml")
    _, rig, _ = rig_from(scenario, next(iter(scenario.offered.values())))
    assert rig is not None
    for text in ("tripped circuit desk power", "circuit desk power tripped"):
        (fault,) = parse_fault(text, rig, scenario.rate, "", spoken(rig))
        assert (fault.thing, fault.mode) == ("desk power", "tripped")


# ---- nonsense


WORDS = st.sampled_from((
    *EVERY_MODE, *KNOWN, *RIG.things, "route", "north", "at", "for", "every", "off", "by", "losing",
    "to", "hard", "before the show", "ever", "1 s", "2 frames", "3 dB", "0", "-1", "20:00:01:00",
    "00:00:00;00", "*", "[", "main/*", "all", "show", "\0", "\ud800", "'", "",
))  # fmt: skip


@given(st.lists(WORDS, max_size=9).map(" ".join))
def test_nonsense_is_refused_or_means_faults_that_the_rig_knows(text: str) -> None:
    try:
        found = parse_fault(text, RIG, RATE, START, KNOWN)
    except InputError as error:
        assert error.problems
        return
    assert found
    for fault in found:
        family = "selector" if "#" in fault.thing else RIG.things[fault.thing].family
        assert fault.mode in MODES[family]
        assert fault.until is None or 0 <= max(fault.at, 0) < fault.until


@given(st.text(max_size=40))
def test_any_text_at_all_is_refused_or_understood(text: str) -> None:
    for mode in ("", "moved main/unit-a to ", "cut ", "dead main/unit-a at "):
        try:
            assert parse_fault(mode + text, RIG, RATE, START, KNOWN)
        except InputError as error:
            assert error.problems


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


# ---- written again -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["first", "studio", "river"])
def test_every_fault_of_the_catalogue_is_written_as_it_is_read(name: str) -> None:
    there = stage(name)
    rate_, start, known = there.scenario.rate, there.scenario.start, spoken(there.rig)
    for strike in strikes(there.rig):
        for at in (0, 1234 * rate_.frame, 5 * FLICKS + 1):
            for fault in strike.at(at).faults:
                line = fault_line(fault, there.rig, rate_, start)
                assert parse_fault(line, there.rig, rate_, start, known) == (fault,), line


LASTING = [mode for mode in MODES["processor"] if mode not in ("flapping", "restart", "moved")]


@given(
    mode=st.sampled_from(LASTING), at=st.integers(-1, 3599 * FLICKS), hard=st.booleans(),
    lasts=st.none() | st.integers(1, 10**6 * FLICKS),
)  # fmt: skip
def test_times_are_written_to_the_flick(mode: str, at: int, hard: bool, lasts: int | None) -> None:
    at = min(at, RIG.length - 1)
    fault = Fault("main/unit-a", mode, at, None if lasts is None else at + lasts, hard=hard)
    assert faults(fault_line(fault, RIG, RATE, START)) == (fault,)


@given(period=st.integers(2, 1800 * FLICKS), off=st.integers(1, 1800 * FLICKS))
def test_a_loose_contact_and_a_loss_are_written_as_they_are_read(period: int, off: int) -> None:
    period, off = max(period, FLICKS), min(off, max(period, FLICKS) - 1)
    loose = Fault("main/trunk-main-1", "flapping", 0, period=period, off=off)
    assert faults(fault_line(loose, RIG, RATE, START)) == (loose,)
    weak = Fault("main/trunk-main-1", "attenuated", 0, loss=off % 40_000 + 1)
    assert faults(fault_line(weak, RIG, RATE, START)) == (weak,)
