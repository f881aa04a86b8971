"""Values as a scenario writes them, so that what is assumed can be copied into the file.

In: frozen entries. Out: texts that load where the entry may stand: names, flow lists and mappings;
metres and pixels with their unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sim.scenario.entries import ChainsEntry, RunEntry
from sim.scenario.stand_ins import UNNAMED


def flow(parts: Mapping[str, Any]) -> str:
    """A mapping on one line: `{from: camera, size: 480 x 270 px}`."""
    return "{" + ", ".join(f"{key}: {_value(value)}" for key, value in parts.items()) + "}"


def _value(value: Any) -> str:
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    text = str(value)
    return f'"{text}"' if set(text) & set(",[]{}:#\"'&*") else text


def pixels_text(size: tuple[int, int]) -> str:
    """`480 x 270 px`."""
    return f"{size[0]} x {size[1]} px"


def run_text(entry: RunEntry | None) -> str:
    """The way of a cable; none is the unnamed route, with no length counted."""
    if entry is None:
        return UNNAMED
    over = entry.over or (UNNAMED,)
    if all(getattr(entry, key) is None for key in ("length", "connectors", "splices")):
        return over[0] if len(over) == 1 else _value(over)
    parts: dict[str, Any] = {"over": over}
    if entry.length is not None:
        parts["length"] = f"{float(entry.length):.12g} m"
    for key in ("connectors", "splices"):
        if getattr(entry, key) is not None:
            parts[key] = getattr(entry, key)
    return flow(parts)


def chains_text(entry: ChainsEntry) -> str:
    """How chains run: `by column`, or every key that is said, or the cabinets one by one."""
    if entry.listed:
        return _value(entry.listed)
    parts = {key: value for key in KEYS if (value := getattr(entry, key)) is not None}
    usual = {"way", "start"} == set(parts) and parts["start"] == "top left"
    return str(entry.way) if usual else flow(parts)


KEYS = ("way", "start", "longest", "number")
