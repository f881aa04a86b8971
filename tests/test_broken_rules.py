"""The tests of whole rigs notice a broken rule: each rule put out of action makes its test fail.

In: the engine with one function replaced. Out: the assertion that fails.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from sim.engine import condition, nodes, selector
from sim.engine.board import ABSENT, Board
from sim.rig.topology import Merge
from tests import (
    test_backup_wirings,
    test_power_and_sync,
    test_routes_and_returns,
    test_seamless,
)


def fails(test: Callable[..., None], *given: Any) -> None:
    """The test does not hold now."""
    with pytest.raises(AssertionError):
        test(*given)


def holds_and_then_fails(
    patch: pytest.MonkeyPatch, where: Any, name: str, instead: Any,
    test: Callable[..., None], *given: Any,
) -> None:  # fmt: skip
    test(*given)
    patch.setattr(where, name, instead)
    fails(test, *given)


def test_without_wait_to_restore_nothing_blinks_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    check = test_routes_and_returns.test_revertive_selectors_blink_twice_and_non_revertive_ones_once
    holds_and_then_fails(monkeypatch, selector, "_restorable", lambda *_: -1, check)


def test_a_wait_that_outranks_the_return_at_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps 2 and 3 of a selector look at the wait before they look at the input."""

    def hasty(state: Any, instant: Any) -> int:
        if state.wait_end is not None and instant.now >= state.wait_end:
            return selector._first([False, *instant.acceptable[1:]])
        return real(state, instant)

    real = selector._after_loss
    name = "test_a_fault_that_with_its_start_is_shorter_than_the_wait_causes_no_switch"
    check = getattr(test_routes_and_returns, name)
    holds_and_then_fails(monkeypatch, selector, "_after_loss", hasty, check, 1)


def test_things_that_are_there_at_once_when_power_returns(monkeypatch: pytest.MonkeyPatch) -> None:
    real = condition._rise
    at_once = lambda state, now, use, later: real(state, now, lambda key: 0, later)  # noqa: E731
    name = "test_a_tripped_circuit_darkens_both_relays_if_they_share_it_until_they_have_started"
    check = getattr(test_power_and_sync, name)
    holds_and_then_fails(monkeypatch, condition, "_rise", at_once, check)


def test_a_pair_that_only_knows_its_first_leg(monkeypatch: pytest.MonkeyPatch) -> None:
    check = test_seamless.test_no_single_fault_that_makes_one_leg_absent_loses_a_frame
    check("relay-pair")
    first = lambda board, number, node: board.value[board.inputs[number][0]]  # noqa: E731
    monkeypatch.setitem(nodes.RULES, Merge, first)
    fails(check, "relay-pair")


def test_displays_that_keep_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    name = "test_with_a_picture_kept_for_a_frame_exactly_one_is_frozen_and_the_rest_dark"
    check = getattr(test_backup_wirings, name)
    holds_and_then_fails(monkeypatch, Board, "_keep", lambda *_: None, check)


def test_processors_without_holdover(monkeypatch: pytest.MonkeyPatch) -> None:
    name = "test_a_lost_reference_does_nothing_until_holdover_ends_and_darkens_no_frame"
    check = getattr(test_power_and_sync, name)
    keys = {**nodes.PHASE_KEYS, "holdover": lambda node: ""}
    holds_and_then_fails(monkeypatch, nodes, "PHASE_KEYS", keys, check)


def test_blanked_things_that_send_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Black is a valid signal; were it none, the backup would take over."""
    real = nodes._sent

    def stops(board: Any, number: int, node: Any) -> Any:
        sick = board.conditions.get(board.wiring.thing_of[number])
        blank = sick is not None and any(f.mode == "blanked" for f in sick.faults.values())
        return ABSENT if blank else real(board, number, node)

    name = "test_a_blanked_main_relay_is_a_single_point_though_a_dead_one_is_none"
    check = getattr(test_backup_wirings, name)
    holds_and_then_fails(monkeypatch, nodes, "_sent", stops, check)
