"""A row of like faults as plain values for other programs.

In: frozen `FaultRow`s. Out: values under their own names; exact fractions as texts. Frames are
None for what lasts: it has no number of frames.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from sim.study.effects import STATES
from sim.study.rows import FaultRow


def texts(parts: Iterable[Fraction]) -> list[str]:
    """Exact fractions as texts such as `3/2`."""
    return [str(part) for part in parts]


def fault_fields(row: FaultRow) -> dict[str, Any]:
    """Every field of a row, under its own name."""
    return {
        "name": row.name,
        "role": row.role,
        "mode": row.mode,
        "detail": row.detail,
        "verdict": row.verdict,
        "valid_signal": row.valid,
        "count": row.count,
        "where": list(row.where),
        "frames": _frames(row, row.frames),
        "frames_by_state": _frames_by_state(row),
        "no_bound": bool(row.races),
        "lasting": texts(row.lasting),
        "lasting_by_state": _by_state(row.state_lasting),
        "ever": texts(row.ever),
        "ever_by_state": _by_state(row.state_ever),
        "states": list(row.states),
        "states_seen": list(row.states_seen),
        "regions": list(row.regions),
        "suppliers": list(row.suppliers),
        "grade": row.grade,
        "races": list(row.races),
        "pending": list(row.pending),
        "rate": row.rate,
        "dark": row.dark,
        "guessed": row.guessed,
        "flashes": row.flashes,
    }


def mark_fields(row: FaultRow) -> dict[str, Any]:
    """What tells one topology's row from another's."""
    return {
        "verdict": row.verdict,
        "frames": _frames(row, row.frames),
        "frames_by_state": _frames_by_state(row),
        "no_bound": bool(row.races),
        "lasting": texts(row.lasting),
        "ever": texts(row.ever),
        "states": list(row.states),
    }


def _frames(row: FaultRow, span: tuple[int, int]) -> list[int] | None:
    """None for what lasts: it has no number of frames."""
    return None if row.verdict == "lasting" else list(span)


def _frames_by_state(row: FaultRow) -> dict[str, list[int]] | None:
    if row.verdict == "lasting":
        return None
    return {state: list(span) for state, span in zip(STATES, row.state_frames, strict=True)}


def _by_state(spans: Sequence[tuple[Fraction, Fraction]]) -> dict[str, list[str]]:
    return {state: texts(span) for state, span in zip(STATES, spans, strict=True)}
