"""What the cut sets of a group come to: frozen values for reports.

Chances are of a show in which nobody mends anything, times wall-seconds a show (the whole group
dark for one second is one).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Way:
    """Cut sets of one kind: kinds of hazards, `sets` of them, the sum of their chances by the end
    of a show.
    """

    kinds: tuple[str, ...]
    sets: int
    chance: float


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A group, wall or region, all of it dark for good: cut sets of one and of two, the chance by
    the end of a show, the mean share of a show, the share of time in the long run, each as if cut
    sets were independent (at most a little high); the likeliest `ways`.
    """

    kind: str
    name: str
    singles: int
    pairs: int
    chance: float
    share: float
    long_run: float
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class CellRow:
    """Cells that hang on like things in the same way: one of their cabinets, how many, how large
    together; the cut sets of one of them, its chance by the end of a show, the time that all are
    dark.
    """

    cabinet: str
    cabinets: int
    pixels: int
    singles: int
    pairs: int
    chance: float
    dark: float


@dataclass(frozen=True, slots=True)
class TopologyCuts:
    """`first`: dark time that single faults make one by one, `overlap`: what falls away where they
    meet, `second`: what pairs add; `dark` = first - overlap + second, off by `bound` at most.
    `beyond`: the chance that more faults strike in a show than cut sets have.
    """

    topology: str
    first: float
    overlap: float
    second: float
    dark: float
    bound: float
    beyond: float
    places: tuple[PlaceRow, ...]
    cells: tuple[CellRow, ...]


@dataclass(frozen=True, slots=True)
class CutStudy:
    """Cut sets of up to `order` faults of each topology; `mended`: hours, for the long run;
    `assumed`: in sentences.
    """

    group: str
    title: str
    order: int
    mended: float
    topologies: tuple[TopologyCuts, ...]
    assumed: tuple[str, ...]
    version: str
    digest: str
