"""Tables of a run that go on from settled ones: what is held is the same, copied or laid over.

In: random rigs and scripts (`tests.rigs`). Out: equal traces, of the whole rig and of the part that
can notice; the settled board as it was.
"""

from __future__ import annotations

import pytest

from sim.engine import tables
from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.symmetry import Kinds, assemble, reach
from sim.engine.tables import Memory, Overlay, copied, is_small
from sim.rig.topology import corner
from tests.rigs import seeded

SEEDS = range(80)


def traces(base: Base, seed: int) -> tuple[Trace, Trace]:
    """Of the whole rig, and of the part that can notice what is struck."""
    rig, script = seeded(seed)
    struck = dict.fromkeys([*(f.thing for f in script.faults), *script.failing])
    acted = dict.fromkeys(action.on for action in script.actions)
    part = reach(base.wiring, Kinds(base.wiring, base.board.value), [*struck, *acted])
    within = assemble(base.wiring, part)
    whole = run(base, script, base.values, rig.length)
    return whole, run(base, script, base.values, rig.length, within=within)


def test_a_run_on_tables_laid_over_shows_what_one_on_copies_shows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    changed = 0
    for seed in SEEDS:
        rig, _ = seeded(seed)
        base = Base(rig, corner(rig, "typical"))
        settled = [list(table) for table in (base.board.value, base.board.shown)]
        monkeypatch.setattr(tables, "SMALL", 10**6)
        copies = traces(base, seed)
        monkeypatch.setattr(tables, "SMALL", 0)
        assert traces(base, seed) == copies, seed
        assert [base.board.value, base.board.shown] == settled
        changed += any(len(line) > 1 for line in copies[0].shown.values())
    assert changed > len(SEEDS) // 2


def test_a_part_is_small_below_one_in_so_many() -> None:
    assert is_small(1, tables.SMALL + 1) and not is_small(1, tables.SMALL)


def test_what_is_laid_over_changes_nothing_below_nor_what_it_went_on_from() -> None:
    below: list[object] = ["a", "b", "c"]
    first = copied(below, small=True)
    first[0] = "x"
    second = copied(first, small=False)
    second[1], first[2] = "y", "late"
    assert isinstance(second, Overlay)
    assert [second[n] for n in range(3)] == ["x", "y", "c"]
    assert [first[n] for n in range(3)] == ["x", "b", "late"] and below == ["a", "b", "c"]
    copy = copied(below, small=False)
    copy[2] = "z"
    assert isinstance(copy, list) and below == ["a", "b", "c"]


class Note:
    """Something that a node remembers."""

    def __init__(self, text: str) -> None:
        self.text = text

    def copied(self) -> Note:
        return Note(self.text)


def test_what_is_remembered_is_copied_when_it_is_first_asked_for() -> None:
    settled = {3: Note("old")}
    memory = Memory(settled)
    assert memory.has(3) and not memory.has(4) and len(memory) == 0
    memory[3].text, memory[4] = "new", Note("own")
    assert settled[3].text == "old" and memory[3].text == "new" and memory.has(4)
    later = memory.onward()
    assert len(memory) == len(later) == 0
    assert [later[n].text for n in (3, 4)] == ["new", "own"] and settled == {3: settled[3]}
