"""A scenario: everything that a file says, what was assumed beyond it, and what may be asked of it.

In: a tree of texts (mappings, lists, texts) and where each path stands in the file. Out: a frozen
`Scenario`, or an `InputError` with every problem found. Times in flicks, shares as exact numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Any

from pydantic import ValidationError

from sim.bounds import MOST_PROBLEMS
from sim.errors import InputError, Problem
from sim.rig.plan import Form, Options
from sim.rig.rates import OwnRate
from sim.rig.terms import Terms
from sim.scenario.assumed import assumptions_of
from sim.scenario.checks import Checked, check
from sim.scenario.content import RULES, label_of, limit_label, variant_entries
from sim.scenario.counts import too_many
from sim.scenario.declared import reading_of
from sim.scenario.entries import Period
from sim.scenario.fields import Reading
from sim.scenario.kits import Assumption
from sim.scenario.messages import Path, paths_of, problems_of, reported
from sim.scenario.models import FormEntry, ScenarioFile, VariantEntry
from sim.scenario.proof_files import Proved
from sim.scenario.risk_checks import RISK_RULES
from sim.scenario.risk_terms import terms_of
from sim.scenario.stated import LimitEntry
from sim.scenario.supply import SUPPLY_RULES
from sim.timebase import Rate, whole_frames

Place = Callable[[Path], str]
NOTHING_PROVED = Proved()


@dataclass(frozen=True, slots=True)
class Variant:
    """One topology for one wall group. `form` is a topology written out node by node."""

    group: str
    label: str
    topology: str
    options: Options
    form: Form | None = None
    offered: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """No `any` may make more of `of` `state` than `over`, for longer.

    `any`: single fault, single dead or cut, double fault.

    `of`: wall (each wall), group (all pixels of each group), or the name of a wall, a region or an
    audience area. `time` is flicks, `frames` the whole frames in it. `group` "" means every group.
    """

    any: str
    state: str
    over: Fraction
    of: str
    time: int
    frames: int
    group: str
    label: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """A break or a critical moment: from `begin` to before `end`, flicks from the start."""

    name: str
    begin: int
    end: int


@dataclass(frozen=True)
class Scenario:
    """A valid scenario. `file` holds the entries as written; `length` is flicks; `bits` per colour.

    `currency` is the one code of all prices, or "" where there are none. `learned`: rates per hour
    from the files that `rate_files` names; `proved`: what tests showed, from those of
    `proof_files`. `terms`: crew, tests (those too), shared causes, contract.
    """

    file: ScenarioFile
    title: str
    rate: Rate
    length: int
    start: str
    bits: int
    breaks: tuple[Stretch, ...]
    critical: tuple[Stretch, ...]
    groups: tuple[str, ...]
    limits: tuple[Limit, ...]
    currency: str
    assumptions: tuple[Assumption, ...]
    terms: Terms
    learned: tuple[OwnRate, ...] = ()
    proved: Proved = NOTHING_PROVED

    def variants(self, group: str) -> tuple[Variant, ...]:
        """The topologies of a group, the one offered first. Raises KeyError."""
        entries = variant_entries(group, self.file.groups[group])
        return tuple(_variant(group, entry, i == 0) for i, (_, entry) in enumerate(entries))

    @property
    def offered(self) -> dict[str, Variant]:
        """The topology offered, for each group."""
        return {group: self.variants(group)[0] for group in self.groups}


def _variant(group: str, entry: VariantEntry, offered: bool) -> Variant:
    options = Options(
        entry.routes,
        entry.power,
        entry.references,
        entry.fallback,
        entry.cards,
        entry.seamless,
        entry.returns,
    )
    form = _form(entry.topology, entry.form) if entry.form else None
    return Variant(group, label_of(entry), entry.topology, options, form, offered)


def _form(name: str, entry: FormEntry) -> Form:
    legs = {relay: tuple(_leg(leg) for leg in legs) for relay, legs in entry.relays.items()}
    return Form(
        name=name,
        units=entry.units,
        relays=tuple(legs.items()),
        heads=tuple(entry.heads.items()),
        tails=tuple(entry.tails.items()),
        second=tuple(entry.second.items()),
        backup_side=entry.backup_side,
        several_walls=entry.several_walls,
    )


def _leg(leg: tuple[str, ...]) -> str | tuple[str, str]:
    return leg[0] if len(leg) == 1 else (leg[0], leg[1])


def scenario_of(tree: Any, place: Place, problems: Iterable[Problem] = ()) -> Scenario:
    """The scenario that a tree holds. Raises InputError with `problems` and all found here."""
    reading, found, total = reading_of(tree), list(problems), 0
    file: ScenarioFile | None
    try:
        file, left_out = ScenarioFile.model_validate(tree, context=reading), frozenset[Path]()
    except ValidationError as error:
        found += problems_of(error, ScenarioFile, place)
        total = error.error_count()
        few = total <= MOST_PROBLEMS
        file, left_out = _salvaged(tree, paths_of(error), reading) if few else (None, NOWHERE)
    if file is not None:
        if over := [*too_many(file, place)]:
            raise InputError(reported([*found, *over], total, place))
        rules = check(Checked(file, place, left_out), (*RULES, *SUPPLY_RULES, *RISK_RULES))
        found += islice(rules, MOST_PROBLEMS + 1)
    if found or file is None:
        raise InputError(reported(found, total, place))
    return _resolved(file)


NOWHERE: frozenset[Path] = frozenset()


def _salvaged(
    tree: Any, wrong: list[Path], reading: Reading
) -> tuple[ScenarioFile | None, frozenset[Path]]:
    """The file without its wrong entries, so that the rest can be checked all the same."""
    if not isinstance(tree, dict):
        return None, frozenset()
    out = {path[: 1 if path[:1] in WHOLE else 2] for path in wrong}
    kept = {key: _without(part, key, out) for key, part in tree.items() if (key,) not in out}
    stand_in = {"title": "?", "rate": reading.rate.label, "length": "1000 h"}
    kept = {"walls": {}, "groups": {}, **kept} | ({"show": stand_in} if ("show",) in out else {})
    try:
        return ScenarioFile.model_validate(kept, context=reading), frozenset(out)
    except ValidationError:
        return None, frozenset(out)


WHOLE = frozenset((name,) for name in ("show", "crew", "contract", "load_in", "risk"))
"""Sections without entries of their own names: one mistake takes the whole section out."""


def _without(part: Any, section: str, out: set[Path]) -> Any:
    if isinstance(part, dict):
        return {key: item for key, item in part.items() if (section, key) not in out}
    if isinstance(part, list):
        return [
            item
            for number, item in enumerate(part)
            if not out & {(section, number), (section, str(item))}
        ]
    return part


def _resolved(file: ScenarioFile) -> Scenario:
    show = file.show
    prices = [e.price or e.price_per_metre for e in file.equipment.values()]
    return Scenario(
        file=file,
        title=show.title,
        rate=show.rate,
        length=show.length,
        start=show.start,
        bits=int(show.bits or 8),
        breaks=_stretches(show.breaks, "break"),
        critical=_stretches(show.critical, "moment"),
        groups=tuple(file.groups),
        limits=tuple(_limit(entry, show.rate, file) for entry in file.limits),
        currency=next((price[1] for price in prices if price), ""),
        assumptions=assumptions_of(file),
        terms=terms_of(file),
    )


def _stretches(periods: tuple[Period, ...], kind: str) -> tuple[Stretch, ...]:
    return tuple(Stretch(p.name or f"{kind} {n}", p.begin, p.end) for n, p in enumerate(periods, 1))


def _limit(entry: LimitEntry, show_rate: Rate, file: ScenarioFile) -> Limit:
    frames = whole_frames(entry.time, show_rate)
    return Limit(
        any=entry.any,
        state=entry.state,
        over=entry.over,
        of=entry.of,
        time=entry.time,
        frames=frames,
        group=entry.group or "",
        label=entry.label or limit_label(entry, show_rate, file),
    )
