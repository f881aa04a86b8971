"""Equipment types and cable runs as a plan holds them, every value known.

In: nothing. Out: `Kit`, `Run` and what follows from the two (optical margin, cable delay).
Times are flicks or `Timing` ranges of flicks, delays exact flicks, lengths metres, optical
figures thousandths of a dB, prices exact numbers in the show's one currency (None: not known).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fnmatch import translate
from fractions import Fraction
from math import ceil
from typing import Any, TypeVar, cast

from sim.faults import Quality
from sim.timebase import Timing, fibre_delay

T = TypeVar("T")
Patterns = tuple[tuple[str, T], ...]
"""Pairs (shell pattern, value); the first whose pattern matches a name counts."""


@dataclass(frozen=True, slots=True)
class Chooser:
    """How a selector behaves: `accepts_above` a quality below good, `locked_on` an input from 0."""

    restore: str = "revertive"
    accepts_above: int = Quality.ABSENT
    locked_on: int = 0


@dataclass(frozen=True, slots=True)
class Limits:
    """What an equipment type can carry; None means that it has no such limit.

    `ports`: copper outputs. `trunks`: fibre outputs of a unit. `trunk_inputs`: fibre inputs of a
    relay. `inputs`: source links that a unit takes in. `chain`: cabinets on a port. `reach`: m.
    `pixels`: pixels on a port at 60 frames a second and 8 bits. `line_width`: widest port in
    pixels that the line-latency mode allows. `buffer`: flicks of path difference that a seamless
    pair evens out.
    """

    ports: int | None = None
    ports_per_trunk: int = 8
    trunks: int | None = None
    trunk_inputs: int | None = None
    inputs: int | None = None
    chain: int | None = None
    pixels: int | None = None
    line_width: int | None = None
    reach: Fraction | None = None
    buffer: int = 0


@dataclass(frozen=True, slots=True)
class Optics:
    """A fibre link's budget and what eats it, in thousandths of a dB."""

    budget: int = 0
    per_km: int = 0
    per_connector: int = 0
    per_splice: int = 0


TIMINGS = (
    "start", "detect", "hold_off", "switch", "wait_to_restore", "keeps_last",
    "notice", "return_wait", "holdover", "relock", "relock_glitch",
    "reference_detect", "reference_hold_off", "reference_switch", "reference_wait_to_restore",
)  # fmt: skip
"""Fields a kit may have a timing for; one that is missing is 0. `notice` and `return_wait` belong
to the gate of a gated return, at the unit or relay that sends it; `reference_*` to a unit's choice
of reference."""


@dataclass(frozen=True, slots=True)
class Kit:
    """An equipment type. `family` is a key of `faults.MODES`.

    `picks` is its own selector (a unit's layers, a relay's banks, a receiver), `follows` a
    unit's choice of reference. `index` is a fibre's group index. `drift` is parts per million.
    `loop_through`: none, passive or active. `crew`: extra people that each of them needs.
    `delay` is what a thing adds to what it sends or shows, `hop` what a receiver adds to what it
    passes on.
    """

    name: str
    family: str
    timings: Mapping[str, Timing] = field(default_factory=dict)
    picks: Chooser = Chooser()
    follows: Chooser = Chooser()
    on_loss: str = "black"
    loop_through: str = "none"
    drift: Fraction = Fraction(10)
    delay: Fraction = Fraction(0)
    hop: Fraction = Fraction(0)
    index: Fraction = Fraction(0)
    limits: Limits = Limits()
    optics: Optics = Optics()
    price: Fraction | None = None
    price_per_metre: Fraction | None = None
    crew: int = 0
    supplier: str = ""
    monitored: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """The way of a cable: the routes it lies on, its length in metres, connectors and splices."""

    routes: tuple[str, ...] = ()
    length: Fraction = Fraction(0)
    connectors: int = 2
    splices: int = 0


@dataclass(frozen=True, slots=True)
class _Index:
    """Patterns ready to be asked often: bare names by themselves, others in order, each with its
    place.
    """

    patterns: Patterns[Any]
    names: Mapping[str, tuple[int, Any]]
    others: tuple[tuple[int, Callable[[str], object], Any], ...]


MOST_INDEXES = 64
_INDEXES: dict[int, _Index] = {}
"""By identity (an index keeps its patterns, so that no other ones can take their place)."""


def first_match(patterns: Patterns[T], name: str, default: T) -> T:
    """The value of the first pattern that `name` matches, or `default`."""
    if not patterns:
        return default
    index = _INDEXES.get(id(patterns)) or _indexed(patterns)
    place, value = index.names.get(name, (len(patterns), default))
    for other, matches, found in index.others:
        if other > place:
            break
        if matches(name):
            return cast(T, found)
    return cast(T, value)


def _indexed(patterns: Patterns[Any]) -> _Index:
    names: dict[str, tuple[int, Any]] = {}
    others = []
    for place, (pattern, value) in enumerate(patterns):
        if MAGIC.search(pattern):
            others.append((place, re.compile(translate(pattern)).match, value))
        else:
            names.setdefault(pattern, (place, value))
    if len(_INDEXES) >= MOST_INDEXES:
        _INDEXES.clear()
    return _INDEXES.setdefault(id(patterns), _Index(patterns, names, tuple(others)))


MAGIC = re.compile(r"[*?[]")


def margin(kit: Kit, run: Run) -> int:
    """Optical margin of a run over this kit, thousandths of a dB (negative: it is too long)."""
    optics = kit.optics
    eaten = run.length * optics.per_km / 1000
    eaten += run.connectors * optics.per_connector + run.splices * optics.per_splice
    return optics.budget - ceil(eaten)


def cable_delay(kit: Kit, run: Run) -> Fraction:
    """What a cable adds, exact flicks: the kit's own delay and group index x length / c."""
    return kit.delay + fibre_delay(run.length, kit.index)
