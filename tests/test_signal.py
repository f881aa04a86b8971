"""What a cabinet's cells show, from signals, pictures and intentions written by hand (R1, R14)."""

from __future__ import annotations

from sim.engine.signal import Kept, cabinet_line
from sim.rig.topology import Placement

WHOLE = Placement("show", 0, 0, 8, 8)
OTHER = Placement("guest", 0, 0, 8, 8)
STACK = {"a": (WHOLE,), "b": (OTHER,)}
LIT = Kept("a", (("show", 6), ("guest", 6)))
CORRUPT = Kept("a", (("show", 2), ("guest", 6)))
STILL = Kept("a", (("show", 4), ("guest", 4)))


def test_a_picture_kept_from_the_first_flick_is_judged_by_every_intention() -> None:
    line = cabinet_line(STACK, [(0, (4, STILL))], {}, [(0, "a"), (10, "b")])
    assert line == [(0, 4), (10, 3)]


def test_a_picture_that_changes_as_the_cabinet_leaves_it_is_never_seen() -> None:
    shown = [(0, (6, "unit")), (10, (4, STILL))]
    line = cabinet_line(STACK, shown, {"unit": [(0, LIT), (10, CORRUPT)]}, [(0, "a")])
    assert line == [(0, 6), (10, 4)]
