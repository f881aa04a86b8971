"""The catalogue: every figure with its source, against what the source says.

In: figures as printed by standards, or as general trade knowledge has them. Out: the entries say
the same, each names its source, and each kit draws on them. Rates are placeholders and say so.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from sim.faults import MODES
from sim.rig.equipment import TYPES, USUAL
from sim.rig.figures import PLACEHOLDER, RANGES, STANDARDS, TRADE, Fact, timing
from sim.rig.kit import TIMINGS, Run, margin
from sim.rig.placeholders import RATES
from sim.scenario.kits import kit_of
from sim.timebase import FLICKS, GRADES, rate

RATE = rate("60")

# Entry, least, most, unit, words that its source must hold. Where nothing else is said beside a
# row, a secondary source that states the figure was read.
PUBLISHED = [
    ("optical loss of signal, assert", "100", "100", "us", "INF-8074i, SFF-8431/8472"),
    ("optical loss of signal, de-assert", "100", "100", "us", "INF-8074i, SFF-8431/8472"),
    ("optical start-up", "300", "300", "ms", "INF-8074i, SFF-8431/8472"),
    ("optical transmit fault", "100", "100", "us", "INF-8074i, SFF-8431/8472"),
    # 750 +- 10 ms (master), 350 +- 5 ms (slave)
    ("copper link bring-up, master", "740", "760", "ms", "IEEE 802.3 40.4.5.2"),
    ("copper link bring-up, slave", "345", "355", "ms", "IEEE 802.3 40.4.5.2"),
    ("copper break link", "1.2", "1.5", "s", "IEEE 802.3 clause 28"),
    ("copper renegotiation", "2", "3", "s", "IEEE 802.3 clause 28"),
    ("seamless frames lost", "0", "0", "frame", "IEC 62439-3; SMPTE ST 2022-7"),
    ("seamless class A", "10", "10", "ms", "SMPTE ST 2022-7 (value from memory)"),
    ("seamless class B", "50", "50", "ms", "SMPTE ST 2022-7 (value from memory)"),
    ("seamless class C", "450", "450", "ms", "SMPTE ST 2022-7 (value from memory)"),
    ("seamless class D", "150", "150", "us", "SMPTE ST 2022-7 (value from memory)"),
    ("ring recovery, G.8032", "50", "50", "ms", "ITU-T G.8032"),
    ("ring recovery, MRP", "200", "200", "ms", "IEC 62439-2"),
    ("protection switch", "50", "50", "ms", "ITU-T G.808.1/G.841 (value from memory)"),
    ("protection detection", "10", "10", "ms", "ITU-T G.808.1/G.841 (value from memory)"),
    ("detect and restore", "50", "60", "ms", "RFC 7419 App. A"),  # its own text read
    ("hold-off", "0", "10", "s", "ITU-T G.808.1"),
    ("hold-off step", "100", "100", "ms", "ITU-T G.808.1"),
    ("hold-off default", "0", "0", "s", "ITU-T G.808.1"),
    ("wait-to-restore", "1", "12", "min", "ITU-T G.8032"),
    ("wait-to-restore, long-haul", "5", "12", "min", "GR-253"),
    ("10 Gb/s optics, launch", "-8.2", "0.5", "dBm", "IEEE 802.3 clause 52"),
    ("10 Gb/s optics, receive", "-14.4", "0.5", "dBm", "IEEE 802.3 clause 52"),
    ("10 Gb/s optics, reach", "10", "10", "km", "IEEE 802.3 clause 52"),
    ("single-mode loss at 1310", "0.4", "0.4", "dB/km", "Fiber Optic Association; ANSI/TIA-568.3"),
    ("connector loss", "0.5", "0.75", "dB", "Fiber Optic Association; ANSI/TIA-568.3"),
    ("splice loss", "0.15", "0.3", "dB", "Fiber Optic Association; ANSI/TIA-568.3"),
    ("fibre group index at 1310", "1.4676", "1.4676", "", "G.652 type fibre (value from memory)"),
    ("fibre group index at 1550", "1.4682", "1.4682", "", "G.652 type fibre (value from memory)"),
    ("pixels per port, 8 bit, 60 Hz", "655360", "655360", "pixel", "common practice, no source"),
    ("ports per trunk", "8", "8", "port", "common practice, no source"),
    ("planned reach of a trunk", "6.5", "6.5", "km", "common practice, no source"),
    ("line-latency width", "512", "512", "pixel", "common practice, no source"),
    ("line-latency delay", "512", "512", "pixel", "common practice, no source"),
    ("scaling latency", "1", "2", "frame", "common practice, no source"),
    ("copper reach", "100", "100", "m", "IEEE 802.3 clause 40 (value from memory)"),
]

# General trade knowledge, values from memory: ranges of grade guess.
GUESSED = [
    ("receiver, forward to return", "1", "20", "frame"),
    ("sending unit decides", "0.1", "3", "s"),
    ("receiver, back to forward", "0", "0", "s"),
    ("copper re-link", "1", "4", "s"),
    ("relay, trunk to trunk", "0.1", "2", "s"),
    ("input changeover, serial digital", "0.1", "1", "s"),
    ("input changeover, computer", "0.5", "5", "s"),
    ("input changeover, protected content", "0.5", "10", "s"),
    ("scaling unit boot", "20", "120", "s"),
    ("media computer boot", "2", "10", "min"),
    ("receiver boot", "2", "15", "s"),
    ("relay boot", "5", "30", "s"),
    ("relock", "0.5", "10", "s"),
    ("battery holds when called", "0.95", "0.99", "share"),
    ("changeover fails, untested", "0.01", "0.05", "per demand"),
    ("changeover fails, tested the same day", "0.001", "0.005", "per demand"),
    ("visible operator error", "0.005", "0.03", "per show"),
    ("source computer crash", "1/10000", "1/1000", "/h"),
    ("temporary fibre damaged", "0.002", "0.01", "per show day"),
    ("notice, wall black", "1", "3", "s"),
    ("notice, one cabinet", "5", "60", "s"),
    ("notice, frozen", "2", "20", "s"),
    ("repair, jumper from behind", "3", "10", "min"),
    ("repair, module", "2", "5", "min"),
    ("repair, scaling unit swap", "10", "30", "min"),
    ("repair, spare strand", "2", "10", "min"),
    ("cabinets on a breaker", "6", "20", "cabinet"),
    ("spare share, modules", "0.03", "0.05", "share"),
    ("spare share, cabinets", "0.02", "0.05", "share"),
    ("any visible defect, 150 cabinets, one night", "0.1", "0.4", "per show"),
    ("whole wall dark over 10 s, unprotected", "0.002", "0.01", "per show"),
]


@pytest.mark.parametrize(("name", "least", "most", "unit", "source"), PUBLISHED)
def test_a_figure_against_published(
    name: str, least: str, most: str, unit: str, source: str
) -> None:
    entry = STANDARDS[name]
    assert (entry.least, entry.most, entry.unit) == (Fraction(least), Fraction(most), unit)
    assert source in entry.source


def test_every_published_figure_is_checked() -> None:
    assert {row[0] for row in PUBLISHED} == set(STANDARDS)


@pytest.mark.parametrize(("name", "least", "most", "unit"), GUESSED)
def test_a_range_of_the_trade(name: str, least: str, most: str, unit: str) -> None:
    """Values from memory; general trade knowledge."""
    entry = RANGES[name]
    assert (entry.least, entry.most, entry.unit) == (Fraction(least), Fraction(most), unit)
    assert (entry.grade, entry.source) == ("guess", "general trade knowledge, from memory")


def test_every_range_is_checked() -> None:
    assert {row[0] for row in GUESSED} == set(RANGES)


def test_the_usual_wait_to_restore_is_five_minutes_against_published() -> None:
    """ITU-T G.8032: 1 to 12 min, default 5 (secondary source read)."""
    assert STANDARDS["wait-to-restore"].middle == 5


def test_the_optical_budget_is_6_2_decibel_against_published() -> None:
    """IEEE 802.3 clause 52, 10GBASE-L: -8.2 and -14.4 dBm (secondary source read)."""
    assert kit_of("fibre trunk", {}, RATE, (1, 1)).optics.budget == 6200


def test_a_trunk_is_reckoned_with_the_greatest_losses() -> None:
    """1 km at 0.4 dB and two connectors at 0.75 dB leave 4.3 dB of 6.2."""
    kit = kit_of("fibre trunk", {}, RATE, (1, 1))
    assert margin(kit, Run(("way",), Fraction(1000), 2)) == 6200 - 400 - 1500


def test_every_entry_has_a_grade_a_source_and_a_range_in_order() -> None:
    used = [f for made in TYPES.values() for f in facts_of(made.name)]
    for entry in [*STANDARDS.values(), *RANGES.values(), *used]:
        assert entry.grade in GRADES
        assert entry.source
        assert entry.least <= entry.middle <= entry.most


def facts_of(name: str) -> list[Fact]:
    """All figures of a generic type."""
    made = TYPES[name]
    single = [fact for fact in (made.delay, made.index) if fact is not None]
    return [*made.timings.values(), *made.limits.values(), *made.optics.values(), *single]


def test_a_default_is_from_a_source_or_says_placeholder() -> None:
    known = {entry.source for entry in STANDARDS.values()}
    for name in TYPES:
        for entry in facts_of(name):
            rests = entry.source in known or entry.source.startswith((PLACEHOLDER, TRADE))
            assert rests, (name, entry)


PARTS = [
    ("receiving card", "receiver, forward to return"),
    ("relay unit", "relay, trunk to trunk"),
]


@pytest.mark.parametrize(("kit", "whole"), PARTS)
def test_detection_and_switching_make_up_the_whole_changeover(kit: str, whole: str) -> None:
    """The trade knows the sum only: 1 to 20 frames, 0.1 to 2 s (values from memory)."""
    times, total = TYPES[kit].timings, RANGES[whole]
    assert times["detect"].least + times["switch"].least == total.least
    assert times["detect"].most + times["switch"].most == total.most


def test_a_unit_covers_every_kind_of_input() -> None:
    """From the quickest serial digital input to the slowest computer output."""
    times = TYPES["scaling unit"].timings
    assert (
        times["detect"].least + times["switch"].least
        == RANGES["input changeover, serial digital"].least
    )
    assert times["detect"].most + times["switch"].most == RANGES["input changeover, computer"].most


def test_unknown_means_unfavourable() -> None:
    unit = kit_of("scaling unit", {}, RATE, (1, 1))
    card = kit_of("receiving card", {}, RATE, (1, 1))
    assert unit.picks.restore == "by-hand"  # an automatic changeover is often switched off
    assert unit.on_loss == "black"
    assert unit.loop_through == "active"  # dies with its unit
    assert not unit.monitored
    assert unit.price is None  # money is never assumed
    assert card.timings["keeps_last"].typical == 0
    assert unit.timings["holdover"].typical == 0


def test_what_shelters_the_picture_is_marked() -> None:
    for name in TYPES:
        for key, value in kit_of(name, {}, RATE, (1, 1)).timings.items():
            assert value.shelters == (key in ("keeps_last", "holdover", "hold_up")), (name, key)


def test_every_type_is_a_kit_with_known_timings() -> None:
    for name, made in TYPES.items():
        assert made.family in MODES
        assert set(made.timings) <= set(TIMINGS)
        assert kit_of(name, {}, RATE, (1, 1)).family == made.family
    assert set(USUAL.values()) <= set(TYPES)


def test_a_fact_becomes_flicks_exactly() -> None:
    assert (
        timing("switch", RANGES["receiver, forward to return"], RATE.frame).most == 20 * RATE.frame
    )
    made = timing("start", RANGES["media computer boot"], RATE.frame)
    assert (made.least, made.typical, made.most) == (120 * FLICKS, 360 * FLICKS, 600 * FLICKS)
    with pytest.raises(KeyError):
        timing("start", STANDARDS["connector loss"], RATE.frame)


def test_every_mode_of_every_family_has_its_placeholder_rate() -> None:
    assert set(RATES) == {(family, mode) for family, modes in MODES.items() for mode in modes}
    for known in RATES.values():
        assert 0 < known.per_hour < 0.1
        assert known.error_factor >= 3
        assert known.source.startswith("placeholder")


def test_the_crash_rate_is_the_geometric_middle_of_its_range() -> None:
    """1e-4 to 1e-3 per hour (value from memory): the factor spans the range both ways."""
    known, span = RATES["source", "dead"], RANGES["source computer crash"]
    assert known.per_hour / known.error_factor == pytest.approx(float(span.least), rel=0.02)
    assert known.per_hour * known.error_factor == pytest.approx(float(span.most), rel=0.03)
