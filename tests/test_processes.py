"""Chunks in one process and in several: results, their order, processes that end, interruptions.

In: small tasks. Out: the same results whoever works and whatever ends meanwhile.
"""

from __future__ import annotations

import os
from multiprocessing import active_children
from pathlib import Path

import pytest

from sim import processes
from sim.errors import InputError
from sim.executing import MOST_KNOWN, Here, Known, Task, done, forget, hold, holding, run
from sim.leaving import WorkLostError
from sim.processes import given, local
from tests import chunks
from tests.chunks import plainly_squared, prepared, squared, squares

EXPECTED = [5 + n * n for n in range(12)]


def test_results_come_in_the_order_of_the_chunks_however_they_are_done() -> None:
    task = Task("slow", squared, Known(prepared, 5))
    with local(2) as several:
        as_done = list(several.each(task, range(12)))
        in_order = list(run(several, task, range(12)))
    assert [number for number, _ in as_done] != list(range(12)), "later ones were done earlier"
    assert sorted((number, made[0]) for number, made in as_done) == list(enumerate(EXPECTED))
    assert [made for made, _ in in_order] == EXPECTED
    workers = {process for _, process in (made for _, made in as_done)}
    assert len(workers) == 2 and os.getpid() not in workers
    assert {process for _, process in in_order} == workers, "they last from one call to the next"


def test_one_process_is_this_one() -> None:
    with local(1) as one:
        assert isinstance(one, Here)
        made = run(one, Task("slow", squared, Known(prepared, 5)), [3, 7])
        assert {process for _, process in made} == {os.getpid()}


def test_chunks_are_handed_out_as_they_are_needed() -> None:
    """However many there are, few are waiting."""
    asked: list[int] = []

    def endless() -> object:
        for number in range(10_000):
            asked.append(number)
            yield number

    with local(2) as several:
        made = several.each(squares(), endless())  # type: ignore[arg-type]
        next(made)
        assert len(asked) <= 2 * processes.AHEAD + 1
        made.close()  # type: ignore[attr-defined]
    assert active_children() == []


def test_processes_learn_what_another_task_needs_to_know() -> None:
    with local(2) as several:
        assert list(run(several, squares(5), range(3))) == [5, 6, 9]
        assert list(run(several, squares(6), range(3))) == [6, 7, 10]
        assert list(run(several, squares(5), range(0))) == []


def test_a_process_that_is_ended_from_outside_changes_nothing(tmp_path: Path) -> None:
    mark = str(tmp_path / "ended")
    task = Task("ended once", chunks.ended_once, Known(prepared, 5))
    with local(2) as several:
        assert list(run(several, task, [(n, mark) for n in range(12)])) == EXPECTED
        assert several.workers == 2
    assert Path(mark).exists(), "one was ended"


def test_processes_that_are_always_ended_are_given_up_with_one_message() -> None:
    task = Task("always ended", chunks.always_ended, Known(prepared, 5))
    with local(3) as several, pytest.raises(WorkLostError, match="ended from outside again"):
        list(run(several, task, range(12)))
    assert several.workers == 1, "fewer each time it came again, as memory may have run out"
    assert WorkLostError.exit_status == 70


def test_what_a_chunk_raises_ends_the_work_and_the_processes() -> None:
    task = Task("refused", chunks.refused, Known(prepared, 5))
    with local(2) as several:
        with pytest.raises(InputError, match="is refused"):
            list(run(several, task, range(12)))
        assert list(run(several, squares(), range(3))) == [5, 6, 9], "it can go on"
    assert active_children() == []


def test_an_interruption_ends_the_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """It comes while this process waits for one of them."""

    def interrupted(*of: object, **how: object) -> None:
        raise KeyboardInterrupt

    with local(2) as several:
        monkeypatch.setattr(processes, "wait", interrupted)
        with pytest.raises(KeyboardInterrupt):
            list(run(several, squares(), range(12)))
        assert active_children() == []


def test_an_executor_that_is_given_is_used() -> None:
    here = Here()
    with given(here, 7) as who:
        assert who is here
    with given(None, 1) as who:
        assert isinstance(who, Here) and who.workers == 1


# ---- what a process knows


def test_what_must_be_known_is_prepared_once_and_the_oldest_is_forgotten() -> None:
    several = [Known(prepared, 100 + n) for n in range(MOST_KNOWN + 1)]
    first = done(same, several[0], 0)
    assert done(same, several[0], 0) is first
    for each in several:
        done(same, each, 0)
    assert done(same, several[0], 0) is not first
    for each in several:
        forget(each)


def same(known: list[int], chunk: int) -> list[int]:
    return known


def test_what_is_held_is_used_until_it_is_forgotten() -> None:
    known = Known(prepared, 5)
    with holding(known, [1000]):
        assert done(plainly_squared, known, 2) == 1004
    assert done(plainly_squared, known, 2) == 9
    assert hold(known, [7]) == [7]
    forget(known)


def test_equal_values_have_equal_marks_and_others_have_not() -> None:
    assert Known(prepared, (1, "a")).mark == Known(prepared, (1, "a")).mark
    assert Known(prepared, (1, "a")).mark != Known(prepared, (1, "b")).mark
    assert Known(prepared, 1).mark != Known(abs, 1).mark
