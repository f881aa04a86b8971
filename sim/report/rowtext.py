"""How fault rows are put into words: what they do, how much, in cells of tables and in sentences.

In: frozen `FaultRow`s. Out: short texts. Rows of one role whose cells are equal are put together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction

from sim.report.words import (
    CABLE,
    frames,
    listed,
    plain,
    share,
    shares,
    struck_words,
    supplier_words,
)
from sim.study.effects import STATES
from sim.study.rows import FaultRow

LETTERS = dict(zip(STATES, "DCWFU", strict=True))

NO_BOUND = "no bound"
"""What is said of frames that a race leaves open."""
SOME_TIMINGS = "with some timings"
"""What takes the whole picture in some corners, or of like things only some of them."""
UNLOCKED = ("unlocked",)
"""Seen by cameras only."""


def mode_of(row: FaultRow) -> str:
    """The mode with what was taken: `moved to camera full`."""
    cable = CABLE.fullmatch(row.detail)
    taken = cable["what"] if cable else row.detail
    return row.mode + (f" to {plain(taken)}" if taken else "")


def title(row: FaultRow) -> str:
    """A row by its plain name: `power feed cable dead`."""
    return f"{struck_words(row.role, row.mode)} {mode_of(row)}"


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
    struck = struck_words(role, of[0].mode)
    return f"{struck} {modes[0]}" if len(modes) == 1 else f"{struck}: {', '.join(modes)}"


def how_long(row: FaultRow) -> str:
    """How long something that lasts does, or what frames of a blink rest on; with what a race
    leaves open.
    """
    if row.verdict == "blink":
        said = row.grade or "-"
    else:
        said = _to_the_end(row) if row.verdict == "lasting" else ""
    return said + (f" ({NO_BOUND})" if row.races else "")


def _to_the_end(row: FaultRow) -> str:
    """A start or wait may go on longer than the show does: then it is no fault for ever."""
    if row.mode == "flapping":
        return "again and again"
    return "may outlast the show" if row.pending else "to the end"


def area(row: FaultRow) -> str:
    """The share not lit: once settled for what lasts, at any time for a blink."""
    return shares(row.lasting if row.verdict == "lasting" else row.ever)


def state_words(row: FaultRow) -> str:
    """What shows: `dark` for what lasts, `wrong 4.2 %, frozen 25 %` where it is not the same
    everywhere; for a blink the frames in each state, `dark 0..51, unlocked 0..606`.
    """
    if row.verdict == "blink":
        spans = zip(STATES, row.state_frames, strict=True)
        return ", ".join(f"{state} {frames(span)}" for state, span in spans if span[1])
    if len(row.states) < 2:
        return "".join(row.states) or "lit"
    parts = dict(zip(STATES, row.state_lasting, strict=True))
    return ", ".join(f"{state} {shares(parts[state])}" for state in row.states)


def by_state(parts: Sequence[Fraction]) -> str:
    """Shares by state in words: `100 % dark`, `95.8 % (70.8 % dark, 25 % frozen)`, `0 %`."""
    found = [f"{share(part)} {state}" for state, part in zip(STATES, parts, strict=True) if part]
    if len(found) < 2:
        return "".join(found) or share(Fraction(0))
    return f"{share(sum(parts, Fraction(0)))} ({', '.join(found)})"


def instead(together: Sequence[Fraction], alone: Sequence[Fraction]) -> str:
    """`100 % dark instead of 0 %`."""
    return f"{by_state(together)} instead of {by_state(alone)}"


def worst_words(row: FaultRow) -> str:
    """What a lasting row costs at most: `100 % dark`, `29.2 % (4.2 % wrong, 25 % frozen)`; which
    states it may show, where they are not all at their greatest at once.
    """
    most = [span[1] for span in row.state_lasting]
    if sum(most, Fraction(0)) == row.lasting[1]:
        return by_state(most)
    return f"{share(row.lasting[1])} {listed(row.states, 'or')}"


def frame_words(row: FaultRow) -> str:
    """The frames of a blink in a sentence: `dark 1 frame`, `dark 0..51 frames, unlocked 0..606`."""
    one = [span for span in row.state_frames if span[1]] == [(1, 1)]
    first, *rest = state_words(row).split(", ")
    return ", ".join([f"{first} frame{'s' * (not one)}", *rest])


def short(row: FaultRow | None) -> str:
    """One cell: `100 % D` lasting, `3..4 D` a blink, `unseen`, `-` where it cannot happen; `*`: a
    race leaves it open.
    """
    if row is None:
        return "-"
    if row.verdict == "unseen":
        return "unseen"
    mark = " *" if row.races else ""
    if row.verdict == "lasting":
        return f"{share(row.lasting[1])} {''.join(LETTERS[state] for state in row.states)}{mark}"
    spans = zip(LETTERS.values(), row.state_frames, strict=True)
    return "\n".join(f"{frames(span)} {letter}{mark}" for letter, span in spans if span[1])


def whose(row: FaultRow) -> str:
    return listed(map(supplier_words, row.suppliers)) or "not said"


def by_role(rows: Iterable[FaultRow]) -> list[str]:
    """Roles with their modes in brackets: `unit-a (blanked, stuck)`; what only cameras see is
    marked, and what takes the whole picture with some timings only.
    """
    modes: dict[str, list[str]] = {}
    for row in rows:
        camera = " (unlocked only)" if row.states == UNLOCKED and row.mode != "unlocked" else ""
        some = "" if row.spoils_all or not row.may_spoil_all else f" {SOME_TIMINGS}"
        modes.setdefault(struck_words(row.role, row.mode) + camera, []).append(mode_of(row) + some)
    return [f"{role} ({', '.join(dict.fromkeys(of))})" for role, of in modes.items()]
