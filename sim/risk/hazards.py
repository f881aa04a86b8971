"""What may strike in a show, and how often: every hazard of a rig, each with a name of its own.

In: a frozen `Rig`, its `Terms`. Out: frozen `Hazard`s. A hazard that two topologies share has one
name in both, so that the same show strikes both alike. Masses are mean numbers of strikes a show.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.study.strikes import Strike

CAUSES = ("item", "person", "load-in", "never tested", "on demand", "shared cause")
"""Whose doing: a thing fails, a person errs, it came wrong to the show, it was dead before and
nobody had tested it, it does not change over when called on, one cause strikes several."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something that may strike in a show.

    `strikes`: what strikes at once (usually one; each at time 0 of the show, to be moved); empty
    where only `failing` counts: selectors whose changeovers fail all night. `early`: so already
    when the show starts; else it strikes at a time by `shape` (Weibull; 1: at any time alike) and
    `age` (hours that it has run before the show). `mass`: mean number a show; of early ones
    -ln(1 - chance). `lasts`: flicks after which it ends of itself. `guessed`: its rate is a
    placeholder.
    """

    key: str
    strikes: tuple[Strike, ...]
    mass: float
    cause: str = "item"
    early: bool = False
    failing: tuple[str, ...] = ()
    shape: float = 1.0
    age: float = 0.0
    lasts: int | None = None
    guessed: bool = True
    error_factor: float = 3.0
    source: str = ""
