"""Flicks, rates, written times and time code, against published figures and as properties."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.timebase import (
    FLICKS,
    FOREVER,
    RATES,
    Delay,
    Timing,
    clock_time,
    fibre_delay,
    frame_times,
    parse_delay,
    parse_metres,
    parse_time,
    parse_timing,
    rate,
    show_time,
    slip_interval,
    to_flicks,
    whole_frames,
)
from sim.timecode import code_number, frame_of_code, frames_in_day, parse_instant, time_code

SIXTY = rate("60")
NTSC = rate("59.94")
a_rate = st.sampled_from(RATES)


# Source: Flicks, open specification, 2018.
@pytest.mark.parametrize(
    ("text", "flicks"),
    [
        ("24000/1001", 29_429_400), ("24", 29_400_000), ("25", 28_224_000),
        ("30000/1001", 23_543_520), ("30", 23_520_000), ("48", 14_700_000), ("50", 14_112_000),
        ("60000/1001", 11_771_760), ("60", 11_760_000), ("100", 7_056_000),
        ("120000/1001", 5_885_880), ("120", 5_880_000),
    ],
)  # fmt: skip
def test_frame_lengths_against_published(text, flicks):
    assert rate(text).frame == flicks
    assert rate(text).per_second == Fraction(text)
    assert parse_time("1 frame", rate(text)) == flicks


def test_flick_against_published():
    """Source: Flicks, open specification, 2018."""
    assert FLICKS == 705_600_000
    assert to_flicks(Fraction(1, 705_600_000)) == 1


def test_every_frame_is_a_whole_number_of_flicks():
    assert [r.frame * r.per_second for r in RATES] == [FLICKS] * 12


@pytest.mark.parametrize(
    ("called", "exact"),
    [
        ("59.94", "60000/1001"), ("29.97", "30000/1001"), ("23.976", "24000/1001"),
        ("23.98", "24000/1001"), ("119.88", "120000/1001"), ("60", "60"), ("60.0", "60"),
        (" 59.940 ", "60000/1001"), ("120/2", "60"),
    ],
)  # fmt: skip
def test_rates_as_people_call_them(called, exact):
    assert rate(called).per_second == Fraction(exact)


@pytest.mark.parametrize(
    ("text", "near"),
    [("59.9", "59.94 or 60"), ("31", "30 or 29.97"), ("49", "48 or 50"), ("0", "23.976 or 24")],
)
def test_an_unknown_rate_names_the_nearest(text, near):
    with pytest.raises(InputError) as caught:
        rate(text)
    assert caught.value.problems[0].nearest == near


@pytest.mark.parametrize("text", ["", "sixty", "60/0", "nan", "inf", "-60", "1e2", "6" * 5000])
def test_what_is_no_rate_is_refused(text):
    with pytest.raises(InputError, match="is not a frame rate"):
        rate(text)


@pytest.mark.parametrize(
    ("text", "flicks"),
    [
        ("250 ms", FLICKS // 4), ("2 frames", 2 * 11_760_000), ("0.5 frames", 5_880_000),
        ("3 h", 3 * 3600 * FLICKS), ("10 s", 10 * FLICKS), ("5 min", 300 * FLICKS),
        ("100 us", 70_560), ("100 µs", 70_560), ("7 days", 7 * 86400 * FLICKS),
        ("1 h 30 min", 5400 * FLICKS), ("250ms", FLICKS // 4), ("0 s", 0), (".5 s", FLICKS // 2),
        ("for ever", FOREVER), ("1 second", FLICKS), ("1 day", 86400 * FLICKS),
    ],
)  # fmt: skip
def test_written_times(text, flicks):
    assert parse_time(text, SIXTY) == flicks


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("5", "without a unit"), ("", "is empty"), ("-3 s", "is negative"),
        ("nan ms", "not a finite number"), ("inf s", "not a finite number"),
        ("1 fortnight", "unknown unit 'fortnight'"), ("1 m", "nearest: min"),
        ("1 sec", "unknown unit 'sec'"), ("1 s 2 s", "twice"), ("1,5 s", "not a comma"),
        ("1 h 30", "without a unit"), ("9" * 5000 + " s", "too long a number"),
        ("999999999999 days", "longer than any show"), ("soon", "is not a quantity"),
        ("1 s -", "is not a quantity"),
    ],
)  # fmt: skip
def test_times_that_are_refused(text, why):
    with pytest.raises(InputError, match=why) as caught:
        parse_time(text, SIXTY, where="line 3, hold_off")
    assert caught.value.problems[0].where == "line 3, hold_off"


def test_frames_need_a_rate():
    with pytest.raises(InputError, match="unknown unit 'frames'"):
        parse_time("2 frames", None)
    assert parse_time("2 s", None) == 2 * FLICKS


def test_times_round_to_the_nearest_flick_halves_to_the_even_one():
    flick = Fraction(1, FLICKS)
    halves = [to_flicks(n * flick / 2) for n in (1, 3, 5, 7)]
    assert halves == [0, 2, 2, 4]
    assert to_flicks(Fraction(149, 100) * flick) == 1
    assert to_flicks(0.25) == FLICKS // 4


@pytest.mark.parametrize(
    ("text", "least", "typical", "most"),
    [
        ("1..20 frames, typically 3", 11_760_000, 35_280_000, 235_200_000),
        ("1 frame .. 20 frames, typically 50 ms", 11_760_000, 35_280_000, 235_200_000),
        ("0.1..2 s", FLICKS // 10, 21 * FLICKS // 20, 2 * FLICKS),
        ("50 ms", FLICKS // 20, FLICKS // 20, FLICKS // 20),
        ("100 ms .. 3 s", FLICKS // 10, 31 * FLICKS // 20, 3 * FLICKS),
        ("1 s .. for ever, typically 3", FLICKS, 3 * FLICKS, FOREVER),
        ("for ever", FOREVER, FOREVER, FOREVER),
    ],
)
def test_written_ranges(text, least, typical, most):
    made = parse_timing(text, SIXTY, "claim", "a data sheet", True)
    assert made == Timing(least, typical, most, "claim", "a data sheet", True)


def test_a_range_in_parts_and_its_middle_rounded_down():
    made = parse_timing({"least": "1 frame", "most": "11760001.5 us"}, SIXTY)
    assert made.least == 11_760_000
    assert made.most == round(Fraction("11.7600015") * FLICKS)
    assert made.typical == (made.least + made.most) // 2
    odd = parse_timing({"least": "0 s", "most": "0.0013 us"}, SIXTY)
    assert (odd.least, odd.typical, odd.most) == (0, 0, 1)


@pytest.mark.parametrize(
    ("what", "grade", "why"),
    [
        ("20..1 frames", "guess", "out of order"),
        ("1..3 s, typically 4", "guess", "out of order"),
        ("1 s .. for ever", "guess", "no middle"),
        ("1..20", "guess", "without a unit"),
        ("1 s, typically", "guess", "is not a quantity"),
        ("1..", "guess", "without a unit"),
        ("1.." * 400, "guess", "is too long"),
        ("1 s", "rumour", "unknown grade 'rumour'"),
        ({"least": "1 s"}, "guess", "needs both"),
        ({"least": "1 s", "moost": "2 s"}, "guess", "nearest: most"),
    ],
)
def test_ranges_that_are_refused(what, grade, why):
    with pytest.raises(InputError, match=why):
        parse_timing(what, SIXTY, grade)


def test_lengths():
    assert parse_metres("1.2 km") == 1200
    assert parse_metres("80 m") == 80
    assert parse_metres("0.5m") == Fraction(1, 2)
    for bad, why in (("1200", "without a unit"), ("-1 m", "negative"), ("1 mile", "nearest: m")):
        with pytest.raises(InputError, match=why):
            parse_metres(bad)


@pytest.mark.parametrize(
    ("flicks", "shown"),
    [
        (0, "0 s"), (FLICKS // 4, "250 ms"),
        (11_771_760, "1 frame"), (12 * 11_771_760, "12 frames"),
        (3780 * FLICKS, "1 h 3 min"), (3 * FLICKS // 2, "1.5 s"), (FOREVER, "for ever"),
        (FLICKS // 25_000, "40 µs"), (1, "0.001 µs"), (2 * 86400 * FLICKS, "2 days"),
        (86_400 * FLICKS + FLICKS // 2, "1 day 0.5 s"), (5_880_000, "8.333 ms"),
        (-FLICKS // 4, "-250 ms"), (FLICKS - 1, "1 s"),
    ],
)  # fmt: skip
def test_times_for_people(flicks, shown):
    assert show_time(flicks, NTSC) == shown


@pytest.mark.parametrize(("frames", "shown"), [(2, "33.367 ms"), (60, "1.001 s"), (0, "0 s")])
def test_a_column_of_times_is_never_in_frames(frames: int, shown: str) -> None:
    """Frames of 1001/60000 s, by hand."""
    assert clock_time(frames * NTSC.frame) == shown


@given(st.integers(0, 100_000 * FLICKS), a_rate)
def test_shown_times_read_back(flicks, rate):
    """Within half of the last digit shown: 0.5 ns, 0.5 us or 0.5 ms."""
    slack = FLICKS // 2000 if flicks >= FLICKS * 9999 // 10000 else FLICKS // 2_000_000
    back = parse_time(show_time(flicks, rate), rate)
    assert abs(back - flicks) <= (1 if flicks < FLICKS // 2000 else slack)


@given(st.integers(0, 10**6), a_rate)
def test_shown_whole_frames_read_back_exactly(frames, rate):
    flicks = min(frames * rate.frame, 10 * FLICKS // rate.frame * rate.frame)
    assert parse_time(show_time(flicks, rate), rate) == flicks


@given(st.fractions(0, 10**6), a_rate)
def test_a_show_has_floor_of_length_times_rate_frames(seconds, rate):
    length = int(seconds * FLICKS)
    assert whole_frames(length, rate) == Fraction(length, FLICKS) * rate.per_second // 1


# Source: exact arithmetic (time x rate); the 59.94 figures are rounded to a thousandth.
@pytest.mark.parametrize(
    ("text", "at_60", "at_59_94"),
    [
        ("50 ms", 3, "2.997"), ("200 ms", 12, "11.988"), ("300 ms", 18, "17.982"),
        ("750 ms", 45, "44.955"),
    ],
)  # fmt: skip
def test_times_in_frames(text, at_60, at_59_94):
    assert frame_times(parse_time(text, SIXTY), SIXTY) == at_60
    assert round(frame_times(parse_time(text, NTSC), NTSC), 3) == Fraction(at_59_94)


@pytest.mark.parametrize(("minutes", "count"), [(10, 17_982), (60, 107_892)])
def test_drop_frame_counts_at_29_97_against_published(minutes, count):
    """Source: SMPTE ST 12-1 (a secondary source was read)."""
    code = f"{minutes // 60:02}:{minutes % 60:02}:00;00"
    assert code_number(code, rate("29.97")) == count


def test_drop_frame_day_and_edges_at_29_97_against_published():
    """Source: SMPTE ST 12-1 (a secondary source was read)."""
    slow = rate("29.97")
    assert frames_in_day(slow) == 2_589_408
    assert time_code(frame_of_code("00:00:59;29", slow) + 1, slow) == "00:01:00;02"
    assert time_code(frame_of_code("00:09:59;29", slow) + 1, slow) == "00:10:00;00"


def test_drop_frame_counts_at_59_94():
    """Source: SMPTE ST 12-1 practice (value from memory; the counts are exact arithmetic)."""
    assert code_number("00:10:00;00", NTSC) == 35_964
    assert code_number("01:00:00;00", NTSC) == 215_784
    assert time_code(frame_of_code("00:00:59;59", NTSC) + 1, NTSC) == "00:01:00;04"


@pytest.mark.parametrize("called", ["29.97", "59.94"])
def test_drop_frame_residue(called):
    """Source: exact arithmetic: a 24 h count lasts 86 399.9136 s, -86.4 ms a day."""
    lasts = frames_in_day(rate(called)) / rate(called).per_second
    assert lasts == Fraction("86399.9136")
    assert (lasts - 86_400) * 1000 == Fraction("-86.4")


def test_119_88_drops_eight_by_the_same_rule():
    fast = rate("119.88")
    assert time_code(frame_of_code("00:00:59;119", fast) + 1, fast) == "00:01:00;008"
    assert frames_in_day(fast) / fast.per_second == Fraction("86399.9136")


@pytest.mark.parametrize("r", RATES, ids=lambda r: r.label)
def test_only_three_rates_are_drop_frame(r):
    assert r.drop_frame == (r.label in ("29.97", "59.94", "119.88"))
    assert (";" in time_code(0, r)) == r.drop_frame


@given(st.integers(0, 30 * 3600 * 120), a_rate, st.integers(0, 24 * 3600 * 20))
def test_time_code_there_and_back(frame, rate, first):
    start = time_code(first, rate)
    frame %= frames_in_day(rate)
    assert frame_of_code(time_code(frame, rate, start), rate, start) == frame


@pytest.mark.parametrize("called", ["29.97", "119.88", "25"])
def test_codes_of_twelve_minutes_are_the_possible_ones_in_order(called):
    """Source: SMPTE ST 12-1 (a secondary source was read); by enumeration."""
    r = rate(called)
    width, mark = len(str(r.base - 1)), ";" if r.drop_frame else ":"
    expected = [
        f"00:{m:02}:{s:02}{mark}{f:0{width}}"
        for m in range(12) for s in range(60) for f in range(r.base)
        if s or f >= r.dropped or m % 10 == 0
    ]  # fmt: skip
    assert [time_code(i, r) for i in range(len(expected))] == expected


def test_time_code_wraps_at_midnight():
    assert time_code(50, rate("25"), "23:59:59:00") == "00:00:01:00"
    assert frame_of_code("00:00:01:00", rate("25"), "23:59:59:00") == 50
    assert time_code(-1, rate("25")) == "23:59:59:24"


@pytest.mark.parametrize(
    ("code", "called", "why"),
    [
        ("00:01:00;00", "29.97", "does not exist at 29.97"),
        ("00:01:00:01", "29.97", "nearest: 00:01:00;02"),
        ("00:11:00;03", "59.94", "nearest: 00:11:00;04"),
        ("24:00:00:00", "25", "has 24 hours"),
        ("00:60:00:00", "25", "has 60 minutes"),
        ("00:00:60:00", "25", "has 60 seconds"),
        ("00:00:00:25", "25", "has 25 frames"),
        ("00:00:00;00", "25", "which 25 has not"),
        ("0:0:0:0", "25", "is not a time code"),
        ("20:00:00", "25", "is not a time code"),
    ],
)
def test_codes_that_cannot_be(code, called, why):
    with pytest.raises(InputError, match=why):
        frame_of_code(code, rate(called))


def test_an_instant_is_a_time_or_a_code():
    assert parse_instant("2 min", SIXTY) == 120 * FLICKS
    assert parse_instant("20:00:01;00", NTSC, "20:00:00:00") == 60 * NTSC.frame
    with pytest.raises(InputError, match="is not a time code"):
        parse_instant("20:00", NTSC)


def test_delays_are_exact():
    """Source: common practice, no source: 512 pixels are 1/8 of a 4096-pixel line, 1/4 of 2048."""
    line = Fraction(11_760_000, 2160)
    assert parse_delay("512 pixels").flicks(11_760_000, (4096, 2160)) == line / 8
    assert parse_delay("512 pixels").flicks(11_760_000, (2048, 2160)) == line / 4
    assert parse_delay("3 lines").flicks(11_760_000, (1, 2160)) == 3 * line
    both = parse_delay("1 frame + 512 pixels + 40 us")
    assert both == Delay(Fraction(1), Fraction(0), Fraction(512), Fraction(40, 10**6))
    assert both.flicks(11_760_000, (4096, 2160)) == 11_760_000 + line / 8 + 28_224


@pytest.mark.parametrize(
    ("text", "why"),
    [("1", "without a unit"), ("1 frame +", "empty part"), ("1 h", "unknown unit"), ("", "empty")],
)
def test_delays_that_are_refused(text, why):
    with pytest.raises(InputError, match=why):
        parse_delay(text)


# Source: c exact; index of fibre of the ITU-T G.652 type (index from memory).
@pytest.mark.parametrize(("index", "us"), [("1.4676", "4.8954"), ("1.4682", "4.8974")])
def test_fibre_delay_of_a_kilometre(index, us):
    flicks = fibre_delay(Fraction(1000), Fraction(index))
    assert round(flicks / FLICKS * 10**6, 4) == Fraction(us)


def test_fibre_delay_of_the_planned_reach():
    """Source: c exact, index of the ITU-T G.652 type (index from memory): 6.5 km = 31.8 us."""
    flicks = fibre_delay(parse_metres("6.5 km"), Fraction("1.4676"))
    assert round(flicks / FLICKS * 10**6, 1) == Fraction("31.8")
    assert round(flicks / SIXTY.frame, 4) == Fraction("0.0019")


@pytest.mark.parametrize(("called", "seconds"), [("60", "1666.7"), ("59.94", "1668.3")])
@pytest.mark.parametrize("ppm", [10, -10])
def test_slip_interval(called, seconds, ppm):
    """Source: exact arithmetic, 1 / (f x |drift|)."""
    assert round(slip_interval(rate(called), Fraction(ppm)), 1) == Fraction(seconds)
