"""Where a scenario is found: a path, or the bare name of one that comes with the program.

In: what a person wrote. Out: a path. The shipped ones lie in the package (in a wheel) or beside it
(in a checkout).
"""

from __future__ import annotations

from pathlib import Path

from sim.errors import nearest_name, refuse

HOMES = (Path(__file__).parent / "scenarios", Path(__file__).parent.parent / "scenarios")


def shipped() -> dict[str, Path]:
    """The scenarios that come with the program, by name."""
    found = {path.stem: path for home in reversed(HOMES) for path in sorted(home.glob("*.yaml"))}
    return dict(sorted(found.items()))


def drills() -> dict[str, Path]:
    """The drills that come with the program, by name."""
    found = {
        path.stem: path
        for home in reversed(HOMES)
        for path in sorted((home / "drills").glob("*.yaml"))
        if not path.stem.endswith(".script")
    }
    return dict(sorted(found.items()))


def find_drill(written: str) -> Path:
    """The path of a drill: a file, or the name of a shipped one. Raises InputError."""
    return _found(written, drills(), "drill", "write one: see those that come with the program")


def find(written: str) -> Path:
    """The path of a scenario. Raises InputError if it is neither a file nor a shipped name."""
    return _found(written, shipped(), "scenario", "write one of your own with `staylit new`")


def _found(written: str, known: dict[str, Path], kind: str, todo: str) -> Path:
    path = Path(written)
    try:
        there = path.exists()
    except (OSError, ValueError):
        there = False
    if there:
        return path
    if written in known:
        return known[written]
    raise refuse(
        f"{kind} {written!r}",
        f"no such file, and no {kind} of this name comes with the program",
        f"a path, or one of: {', '.join(known)}",
        nearest_name(written, known),
        todo,
    )
