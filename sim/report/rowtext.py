"""How fault rows are put into words: what they do, how much, in cells of tables and in sentences.

In: frozen `FaultRow`s. Out: short texts. Rows of one role whose cells are equal are put together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from sim.report.words import CABLE, frames, listed, plain, share, shares, supplier_words
from sim.study.effects import STATES
from sim.study.rows import FaultRow

LETTERS = dict(zip(STATES, "DCWFU", strict=True))

UNLOCKED = ("unlocked",)
"""Seen by cameras only."""


def mode_of(row: FaultRow) -> str:
    """The mode with what was taken: `moved to camera full`."""
    cable = CABLE.fullmatch(row.detail)
    taken = cable["what"] if cable else row.detail
    return row.mode + (f" to {plain(taken)}" if taken else "")


def title(row: FaultRow) -> str:
    """A row by its plain name: `power feed cable dead`."""
    return f"{plain(row.role)} {mode_of(row)}"


def together(
    rows: Iterable[FaultRow], cells: Callable[[FaultRow], tuple[str, ...]]
) -> list[tuple[str, list[FaultRow], tuple[str, ...]]]:
    """Rows of one role with equal cells: the role with all their modes, the rows, the cells."""
    alike: dict[tuple[str, tuple[str, ...]], list[FaultRow]] = {}
    for row in rows:
        alike.setdefault((row.role, cells(row)), []).append(row)
    return [(named(role, of), of, made) for (role, made), of in alike.items()]


def named(role: str, of: Sequence[FaultRow]) -> str:
    """`relay-main: dead, flapping`; one mode: `relay-main dead`."""
    modes = list(dict.fromkeys(mode_of(row) for row in of))
    return f"{plain(role)} {modes[0]}" if len(modes) == 1 else f"{plain(role)}: {', '.join(modes)}"


def how_long(row: FaultRow) -> str:
    """Frames for a blink, with the grade of the timings it hangs on; in words for the others."""
    if row.verdict == "blink":
        return frames(row.frames) + (f", {row.grade}" if row.grade else "")
    if row.verdict == "unseen":
        return "none"
    return "again and again" if row.mode == "flapping" else "to the end"


def area(row: FaultRow) -> str:
    """The share not lit: once settled for what lasts, at any time for a blink."""
    return shares(row.lasting if row.verdict == "lasting" else row.ever)


def state_words(row: FaultRow) -> str:
    return ", ".join(row.states if row.verdict == "lasting" else row.states_seen) or "lit"


def short(row: FaultRow | None) -> str:
    """One cell: `100 % D` lasting, `3..4` a blink, `unseen`, `-` where it cannot happen."""
    if row is None:
        return "-"
    if row.verdict == "unseen":
        return "unseen"
    letters = "".join(LETTERS[state] for state in row.states)
    if row.verdict == "lasting":
        return f"{share(row.lasting[1])} {letters}"
    return frames(row.frames)


def whose(row: FaultRow) -> str:
    return listed(map(supplier_words, row.suppliers)) or "not said"


def by_role(rows: Iterable[FaultRow]) -> list[str]:
    """Roles with their modes in brackets: `unit-a (blanked, stuck)`; what only cameras see is
    marked.
    """
    modes: dict[str, list[str]] = {}
    for row in rows:
        camera = " (unlocked only)" if row.states == UNLOCKED and row.mode != "unlocked" else ""
        modes.setdefault(plain(row.role) + camera, []).append(mode_of(row))
    return [f"{role} ({', '.join(dict.fromkeys(of))})" for role, of in modes.items()]
