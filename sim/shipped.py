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


def find(written: str) -> Path:
    """The path of a scenario. Raises InputError if it is neither a file nor a shipped name."""
    path, known = Path(written), shipped()
    try:
        there = path.exists()
    except (OSError, ValueError):
        there = False
    if there:
        return path
    if written in known:
        return known[written]
    raise refuse(
        f"scenario {written!r}",
        "no such file, and no scenario of this name comes with the program",
        f"a path, or one of: {', '.join(known)}",
        nearest_name(written, known),
        "write one of your own with `staylit new`",
    )
