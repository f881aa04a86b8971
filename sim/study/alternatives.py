"""What an assumption that is no timing decides: the study again, with another value in its place.

In: a `Scenario` and an assumption. Out: frozen `Alternative`s, each with what changes in every
group, with the topology offered or one that has what the assumption is about. Shares are parts of a
group's pixels. Only what has a few other values is worked out: circuits, ways to feed a second
unit, references, what a layer shows without its source, how inputs are chosen, the route of a
cable that has a length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from typing import Any

from sim.errors import InputError
from sim.rig.topology import ON_LOSS, RESTORES
from sim.scenario.assumed import nodes_with, second_of
from sim.scenario.entries import EquipmentEntry
from sim.scenario.kits import Assumption
from sim.scenario.models import ScenarioFile
from sim.scenario.scenario import Scenario, Variant
from sim.scenario.shape import circuits_or_first
from sim.study.contingency import Laboratory, singles
from sim.study.promises import verdicts
from sim.study.rows import FaultRow, rows
from sim.study.strikes import strikes
from sim.study.study import by_name, rig_of

MOST = 3
"""So many other values are worked out; each costs a study of every group."""
Other = tuple[str, ScenarioFile]


@dataclass(frozen=True, slots=True)
class Change:
    """What is otherwise in one group: limits (label, verdict as assumed, verdict then), faults that
    are lasting no more or only then, and such as take another share.
    """

    group: str
    variant: Variant
    limits: tuple[tuple[str, str, str], ...]
    gone: tuple[FaultRow, ...]
    new: tuple[FaultRow, ...]
    moved: tuple[tuple[FaultRow, FaultRow], ...]

    @property
    def nothing(self) -> bool:
        return not (self.limits or self.gone or self.new or self.moved)


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another value; `reasons`: why nothing can be built with it, or with what was assumed."""

    value: str
    changes: tuple[Change, ...]
    reasons: tuple[str, ...]


def alternatives(scenario: Scenario, assumed: Assumption) -> tuple[Alternative, ...]:
    """The first few values other than the one assumed; none where none is worked out."""
    others = _others(scenario.file, assumed.path)
    taken = assumed.value.rpartition(": ")[2]  # some values say more: `as its unit: black`
    found = list(islice((other for other in others if other[0] != taken), MOST))
    chosen = {group: _having(scenario, group, assumed.path) for group in scenario.groups}
    before = {group: _judged(scenario, v) for group, v in chosen.items() if found}
    return tuple(
        _alternative(value, replace(scenario, file=file), chosen, before) for value, file in found
    )


def _having(scenario: Scenario, group: str, path: str) -> Variant:
    """The topology offered, or the first one that has the unit or relay that the place is about."""
    entry, needed = scenario.file.groups[group], _needed(group, path)
    entries = zip(scenario.variants(group), (entry.offered, *entry.against), strict=True)
    having = (v for v, e in entries if not needed or needed in nodes_with(scenario.file, group, e))
    return next(having, scenario.offered[group])


def _needed(group: str, path: str) -> str:
    """The unit or relay without which nothing hangs on what is said at a path."""
    power = f"groups.{group}.power."
    second = path.startswith("sources.") and path.endswith(SECOND)
    return "unit-b" if second else path.removeprefix(power) * path.startswith(power)


SECOND = (".second", ".own_same", ".distributor_circuits")
"""What only a second unit makes anything of."""


@dataclass(frozen=True, slots=True)
class _Judged:
    reasons: tuple[str, ...]
    limits: tuple[tuple[str, str], ...] = ()
    lasting: Mapping[str, FaultRow] | None = None


def _judged(scenario: Scenario, variant: Variant) -> _Judged:
    try:
        _, rig, reasons = rig_of(scenario, variant)
    except InputError as error:
        return _Judged(tuple(problem.found for problem in error.problems))
    if rig is None:
        return _Judged(reasons)
    laboratory = Laboratory(rig, variant.group)
    outcomes = singles(laboratory, strikes(rig))
    judged = verdicts(scenario.limits, laboratory.canvas, outcomes)
    found = rows(outcomes, laboratory.canvas.area, rig.length, rig.timings)
    lasting = by_name(row for row in found if row.verdict == "lasting")
    return _Judged((), tuple((v.limit.label, v.verdict) for v in judged), lasting)


def _alternative(
    value: str,
    scenario: Scenario,
    chosen: Mapping[str, Variant],
    before: Mapping[str, _Judged],
) -> Alternative:
    after = {group: _judged(scenario, variant) for group, variant in chosen.items()}
    reasons = [r for judged in (*before.values(), *after.values()) for r in judged.reasons]
    changes = (
        _change(chosen[group], before[group], after[group]) for group in ([] if reasons else after)
    )
    return Alternative(value, tuple(changes), tuple(dict.fromkeys(reasons)))


def _change(variant: Variant, before: _Judged, after: _Judged) -> Change:
    old, new = before.lasting or {}, after.lasting or {}
    judged = zip(before.limits, after.limits, strict=True)
    return Change(
        group=variant.group,
        variant=variant,
        limits=tuple((label, was, then) for (label, was), (_, then) in judged if was != then),
        gone=tuple(row for name, row in old.items() if name not in new),
        new=tuple(row for name, row in new.items() if name not in old),
        moved=tuple(
            (row, new[name]) for name, row in old.items() if name in new and _moved(row, new[name])
        ),
    )


def _moved(one: FaultRow, other: FaultRow) -> bool:
    shares: tuple[Fraction, Fraction] = (one.lasting[1], other.lasting[1])
    return shares[0] != shares[1] or one.states != other.states


# ---- the other values


def _others(file: ScenarioFile, path: str) -> Iterator[Other]:
    """Each other value that could stand at a path, with the file that says it."""
    for section in ("sources", "references", "walls", "groups"):
        for name in getattr(file, section):
            before = f"{section}.{name}."
            if path.startswith(before):
                yield from _in_entry(file, section, name, path.removeprefix(before))
    before, _, field = path.rpartition(".")
    if path.startswith("equipment.") and field in SETTINGS:
        yield from _in_type(file, before.removeprefix("equipment."), field)


def _in_entry(file: ScenarioFile, section: str, name: str, key: str) -> Iterator[Other]:
    entry = getattr(file, section)[name]
    if key in ("circuits", "distributor_circuits"):
        for c in _circuits(file):
            fed: Any = ((c,),) if section == "walls" else (c,)
            yield c, _with(file, section, name, **{key: fed})
    elif key == "references":
        yield from ((r, _with(file, section, name, references=(r,))) for r in file.references)
    elif key == "own_same":
        yield "yes", _with(file, section, name, own_same=True)
    elif section == "groups":
        yield from _in_group(file, name, *key.partition(".")[::2])
    else:
        yield from _of_cable(file, section, name, key, entry)


def _of_cable(file: ScenarioFile, section: str, name: str, key: str, entry: Any) -> Iterator[Other]:
    """How a second unit takes a source; the route of a cable."""
    if key == "second":
        for way in ("distributor", "loop-through"):
            if way != second_of(file, entry):
                yield way, _with(file, section, name, second=way)
    if key == "run" and entry.run is not None:
        for route in file.routes:
            run = entry.run.model_copy(update={"over": (route,)})
            yield f"route {route}", _with(file, section, name, run=run)


def _in_group(file: ScenarioFile, group: str, section: str, key: str) -> Iterator[Other]:
    """What feeds a unit or relay; what a layer shows without its source."""
    if section == "power":
        for c in _circuits(file):
            power = {**file.groups[group].power, key: (c,)}
            yield c, _with(file, "groups", group, power=power)
    if section == "layers" and key.endswith(".on_loss"):
        yield from _on_loss(file, group, key.removesuffix(".on_loss"))


def _on_loss(file: ScenarioFile, group: str, layer: str) -> Iterator[Other]:
    layers = file.groups[group].layers
    for way in ON_LOSS if layer in layers else ():
        changed = {**layers, layer: layers[layer].model_copy(update={"on_loss": way})}
        yield way, _with(file, "groups", group, layers=changed)


SETTINGS: Mapping[str, tuple[str, ...]] = {"on_loss": ON_LOSS, "restore": RESTORES}


def _in_type(file: ScenarioFile, name: str, field: str) -> Iterator[Other]:
    """A setting of a type; how it picks an input or follows a reference stands one level lower."""
    part = next((p for p in ("picks", "follows") if name.endswith(f".{p}")), "")
    name = name.removesuffix(f".{part}")
    entry = file.equipment.get(name, EquipmentEntry())
    for value in SETTINGS[field]:
        said: dict[str, Any] = {field: value}
        if part:
            said = {part: getattr(entry, part).model_copy(update=said)}
        equipment = {**file.equipment, name: entry.model_copy(update=said)}
        yield value, file.model_copy(update={"equipment": equipment})


def _circuits(file: ScenarioFile) -> Iterable[str]:
    """All but the one that everything unsaid hangs on."""
    return [name for name in file.circuits if name not in circuits_or_first(file, ())]


def _with(file: ScenarioFile, section: str, name: str, **more: Any) -> ScenarioFile:
    """The file with some fields of one entry said otherwise."""
    entries = getattr(file, section)
    changed = {**entries, name: entries[name].model_copy(update=more)}
    return file.model_copy(update={section: changed})
