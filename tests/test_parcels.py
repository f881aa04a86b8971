"""Shows and what they come to, on their way between processes and through a journal: exact.

In: shows, tables, single faults drawn; texts that no journal of ours holds. Out: the same again,
bit by bit, or ValueError.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64encode

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from sim.executing import Json
from sim.risk.parcels import (
    EXACTS,
    HEAVY,
    MOST_NUMBERS,
    ROWS,
    cut,
    packed,
    singles_read,
    table_read,
    unpacked,
)
from sim.risk.plain import SUMS, Sums
from sim.risk.shows import Blow
from sim.risk.single import Single

FLOATS = st.floats(allow_nan=False)
BLOWS = st.builds(Blow, st.integers(0, 2**31 - 1), st.lists(FLOATS, max_size=7).map(tuple))
SHOWS = st.lists(st.lists(BLOWS, max_size=5).map(tuple), max_size=8)
TABLES = arrays.arrays(np.float64, st.tuples(*[st.integers(0, 5)] * 2))
NUMBERS = st.lists(FLOATS, max_size=4).map(tuple)
SINGLES = st.builds(Single, NUMBERS, st.lists(st.tuples(FLOATS, NUMBERS), max_size=3).map(tuple))


def through_json(said: Json) -> Json:
    return json.loads(json.dumps(said, allow_nan=False))


@given(SHOWS)
def test_shows_arrive_as_they_left(shows: list[tuple[Blow, ...]]) -> None:
    made = packed(shows)
    assert unpacked(made) == shows
    assert made.count == len(shows)


@given(SHOWS, st.integers(1, 20))
def test_parcels_are_all_shows_in_their_order_and_not_too_heavy(
    shows: list[tuple[Blow, ...]], times: int
) -> None:
    many = shows * times * 10
    cuts = cut(many)
    assert [show for part in cuts for show in part] == many
    assert all(part and sum(len(s) ** 2 for s in part[1:]) <= HEAVY for part in cuts)


@given(TABLES)
def test_a_table_is_the_same_bit_by_bit(table: np.ndarray) -> None:
    again = ROWS.unpack(through_json(ROWS.pack(table)))
    assert again.shape == table.shape and again.dtype == np.float64
    assert again.tobytes() == table.tobytes()


@given(st.lists(st.none() | SINGLES, max_size=4))
def test_single_faults_are_the_same_bit_by_bit(singles: list[Single | None]) -> None:
    again = EXACTS.unpack(through_json(EXACTS.pack(singles)))
    assert repr(again) == repr(singles)


@given(st.integers(1, 10**9), TABLES, FLOATS)
def test_sums_are_the_same_bit_by_bit(shows: int, table: np.ndarray, seconds: float) -> None:
    made = Sums(shows, table, table, table, table, seconds)
    again = SUMS.unpack(through_json(SUMS.pack(made)))
    assert (again.shows, again.seconds) == (shows, seconds)
    assert again.more_squares.tobytes() == table.tobytes()


def eight(count: int) -> str:
    return b64encode(zlib.compress(bytes(8 * count))).decode()


@pytest.mark.parametrize(
    "said",
    [
        None, 7, "x", [], [1, 1], [1, 1, 1, eight(1)], [1, 2, eight(1)], [1, 1, eight(2)],
        [-1, -1, eight(1)], [True, 1, eight(1)], [1.0, 1, eight(1)], [1, 1, "?" * 9], [1, 1, 5],
        [1, 1, b64encode(b"plain").decode()], [MOST_NUMBERS, MOST_NUMBERS, eight(1)],
        [1, 1, eight(1) + eight(1)], [1, 1, eight(1)[:-4]],
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused(said: Json) -> None:
    with pytest.raises(ValueError):
        table_read(said)
    assert table_read([1, 1, eight(1)]).tolist() == [[0.0]]


def test_what_would_unpack_to_more_than_it_says_is_never_unpacked() -> None:
    """A gigabyte of zeros in a megabyte: no more of it is made than one number and a byte."""
    import tracemalloc

    bomb = [1, 1, b64encode(zlib.compress(bytes(2**26), 9)).decode()]
    tracemalloc.start()
    with pytest.raises(ValueError, match="another number of bytes"):
        table_read(bomb)
    assert tracemalloc.get_traced_memory()[1] < 2**20
    tracemalloc.stop()


@pytest.mark.parametrize(
    "said",
    [None, {}, [7], [[]], [["0x0p+0"]], [["x", []]], [["0x0p+0", [["0x0p+0"]]]], [[3, []]],
     [["0x0p+0", [[None, ""]]]], [["0x1p+99999", []]]],
)  # fmt: skip
def test_what_are_no_single_faults_is_refused(said: Json) -> None:
    with pytest.raises(ValueError):
        singles_read(said)


@pytest.mark.parametrize("said", [None, [], 7, [0, "0x0p+0"], ["a", "0x0p+0", *[[1, 1, ""]] * 4]])
def test_what_are_no_sums_is_refused(said: Json) -> None:
    with pytest.raises(ValueError):
        SUMS.unpack(said)
