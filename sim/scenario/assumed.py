"""Everything that a scenario does not say and that is taken all the same, the unfavourable way.

In: a valid file. Out: `Assumption`s in the order of the file: where it could be said, what it is,
the value taken, its grade and source. Grid, pixels, rate, distances and money are never among them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain

from sim.rig.equipment import USUAL
from sim.rig.figures import PLACEHOLDER, UNKNOWN
from sim.rig.forms import FORMS
from sim.rig.kit import first_match
from sim.scenario.entries import FeedEntry, RunEntry, SourceEntry
from sim.scenario.kits import Assumption, kit_assumptions, setting_of
from sim.scenario.models import GroupEntry, ScenarioFile, VariantEntry
from sim.scenario.shape import circuits_or_first, picture_of, run_of, walls_of
from sim.scenario.stand_ins import FREE, PICTURE, UNNAMED
from sim.scenario.written import chains_text, flow, pixels_text, run_text

GROUP_ROLES = (
    "unit",
    "relay",
    "receiver",
    "port",
    "trunk",
    "patch",
    "jumper",
    "supply",
    "power-jumper",
)
Assumed = Iterator[Assumption]


def guess(path: str, what: str, value: str, source: str = UNKNOWN) -> Assumption:
    """An assumption of grade guess."""
    return Assumption(path, what, value, "guess", source)


def assumptions_of(file: ScenarioFile) -> tuple[Assumption, ...]:
    """All assumptions of a file, each once."""
    found = chain(
        _show(file),
        _sources(file),
        _references(file),
        _walls(file),
        _groups(file),
        _circuits(file),
        _types(file),
    )
    return tuple(dict.fromkeys(found))


def _show(file: ScenarioFile) -> Assumed:
    if file.show.bits is None:
        yield guess(
            "show.bits",
            "bits per colour",
            "8",
            "the usual way to drive a wall; common practice, no source",
        )


def _sources(file: ScenarioFile) -> Assumed:
    for name, source in (file.sources or {PICTURE: SourceEntry()}).items():
        path = f"sources.{name}"
        yield from _feed(file, path, source, "source")
        if source.rate is None:
            yield guess(
                f"{path}.rate",
                "the rate of its own frames",
                file.show.rate.label,
                "that of the walls",
            )
        if source.second is None:
            yield guess(f"{path}.second", "how a second unit takes it", second_of(file, source))
        if second_of(file, source) == "distributor" and not source.distributor_circuits:
            yield _circuit(file, f"{path}.distributor_circuits", "what feeds its distributor")
        if source.own is not None and source.own_same is None:
            yield guess(
                f"{path}.own_same",
                "whether the second unit's own source shows the same picture",
                "no",
            )


def second_of(file: ScenarioFile, source: SourceEntry) -> str:
    """How a second unit takes a source: as said, else through the first unit where that can be."""
    units = [group.kits.get("unit", USUAL["unit"]) for group in file.groups.values()]
    handed_on = all(
        setting_of(unit, file.equipment, "loop_through", "none") != "none" for unit in units
    )
    return source.second or ("loop-through" if handed_on else "distributor")


def _references(file: ScenarioFile) -> Assumed:
    for name, reference in file.references.items():
        yield from _feed(file, f"references.{name}", reference, "reference")


def _feed(file: ScenarioFile, path: str, entry: FeedEntry, role: str) -> Assumed:
    if entry.kit is None:
        yield guess(f"{path}.kit", f"what kind of {role} it is", USUAL[role], PLACEHOLDER)
    if not entry.circuits:
        yield _circuit(file, f"{path}.circuits", "what feeds it")
    if entry.run is None and "*" not in entry.runs:
        yield guess(f"{path}.run", f"the way of its cable{ONE_WAY}{NO_LENGTH}", UNNAMED)
    elif entry.run is not None:
        yield from _run(f"{path}.run", entry.run)
    if entry.supplier is None:
        yield _supplier(path)


NO_LENGTH = ", no length counted"
ONE_WAY = " (all cables without a named route count as on one route: give it one)"
UNROUTED = "the route that it lies on (all cables without a named one count as one: give it one)"


def _run(path: str, entry: RunEntry) -> Assumed:
    if not entry.over:
        yield guess(f"{path}.over", UNROUTED, UNNAMED)


def _circuit(file: ScenarioFile, path: str, what: str) -> Assumption:
    return guess(path, what, circuits_or_first(file, ())[0])


def _supplier(path: str) -> Assumption:
    return guess(f"{path}.supplier", "who supplies it", "us")


def _walls(file: ScenarioFile) -> Assumed:
    for name, wall in file.walls.items():
        if wall.power is None:
            yield guess(
                f"walls.{name}.power",
                "how the power chains run: as the data chains",
                chains_text(wall.chains),
                PLACEHOLDER,
            )
        if not wall.circuits:
            assumed = _circuit(file, f"walls.{name}.circuits", "what feeds its power chains")
            yield replace(assumed, value=f"[{assumed.value}]")


def _groups(file: ScenarioFile) -> Assumed:
    for name, entry in file.groups.items():
        path = f"groups.{name}"
        yield from _layers(file, name, path, entry)
        yield from _cables(path, entry)
        powered = tuple(entry.power.items())
        for node in nodes_of(file, name):
            if not first_match(powered, node, ()):
                yield _circuit(file, f"{path}.power.{node}", f"what feeds {node}")
        if entry.references is None:
            yield guess(
                f"{path}.references", "what its units are locked to (none: each runs free)", FREE
            )
        if not entry.suppliers:
            yield guess(f"{path}.suppliers", "who supplies it", flow({'"*"': "us"}))


def nodes_of(file: ScenarioFile, group: str) -> tuple[str, ...]:
    """The units and relays that the variants of a group have, by name without the group."""
    entry = file.groups[group]
    each = (nodes_with(file, group, variant) for variant in (entry.offered, *entry.against))
    return tuple(dict.fromkeys(chain.from_iterable(each)))


def nodes_with(file: ScenarioFile, group: str, variant: VariantEntry) -> tuple[str, ...]:
    """The units and relays that a group has with one variant, by name without the group."""
    form, copper = variant.form, file.groups[group].copper
    names = [*form.units, *form.relays] if form else _named(variant.topology)
    if not form and not copper and not any("relay" in name for name in names):
        names = [*names, *CARRIERS[: len(names)]]
    walls = walls_of(file, group)
    return tuple(
        name.replace("{wall}", wall) for name in names for wall in (walls if "{" in name else ("",))
    )


CARRIERS = ("relay-main", "relay-backup")
"""What carries the ports of a unit to where copper does not reach."""


def _named(topology: str) -> list[str]:
    form = FORMS[topology]
    return [*form.units, *(name for name, _ in form.relays)]


def _layers(file: ScenarioFile, group: str, path: str, entry: GroupEntry) -> Assumed:
    whole, on_loss = pixels_text(picture_of(file, group)), _on_loss(file, entry)
    if not entry.layers:
        source = next(iter(file.sources), PICTURE)
        yield guess(
            f"{path}.layers.{PICTURE}",
            "what the walls show: the first source, over the whole picture",
            flow({"from": source, "size": whole, "on_loss": on_loss}),
            PLACEHOLDER,
        )
    for name, layer in entry.layers.items():
        if layer.size is None:
            yield guess(
                f"{path}.layers.{name}.size",
                "how large it is: the whole picture",
                whole,
                PLACEHOLDER,
            )
        if layer.on_loss is None:
            yield guess(
                f"{path}.layers.{name}.on_loss",
                "what it shows without its source: as its unit",
                on_loss,
            )


def _on_loss(file: ScenarioFile, entry: GroupEntry) -> str:
    unit = entry.kits.get("unit", USUAL["unit"])
    return setting_of(unit, file.equipment, "on_loss", "black")


def _cables(path: str, entry: GroupEntry) -> Assumed:
    cables = entry.cables
    if not entry.copper and cables.trunk_backup is None:
        yield guess(
            f"{path}.cables.trunk_backup",
            "the way of the backup trunks: that of the main trunks",
            run_text(cables.trunk_main),
        )
    for key, other in (("heads", "tails"), ("tails", "heads")):
        said, like = getattr(cables, key), getattr(cables, other)
        if said is None:
            how = f": that of the cables to the {other}" if like else NO_LENGTH
            what = f"the way of the cables to the {key}{how}"
            yield guess(f"{path}.cables.{key}", what, run_text(like))
    for key in ("trunk_main", "trunk_backup", "heads", "tails"):
        run = getattr(cables, key)
        if run is not None:
            yield from _run(f"{path}.cables.{key}", run)


def _circuits(file: ScenarioFile) -> Assumed:
    for name, entry in file.circuits.items():
        if entry.hold_up is None:
            yield guess(
                f"circuits.{name}.hold_up", "how long it holds when its feed is lost", "0 s"
            )
        if entry.supplier is None:
            yield _supplier(f"circuits.{name}")


def _types(file: ScenarioFile) -> Assumed:
    for name in types_used(file):
        yield from kit_assumptions(name, file.equipment)


def types_used(file: ScenarioFile) -> tuple[str, ...]:
    """The equipment types that something of the rig is, each once."""
    found: list[str] = []
    for entry in file.groups.values():
        found += [entry.kits.get(role, USUAL[role]) for role in GROUP_ROLES]
        found += entry.own_kits.values()
    for source in file.sources.values():
        found += [source.kit or USUAL["source"], source.cable or USUAL["source cable"]]
        found += (
            [source.distributor or USUAL["distributor"]]
            if second_of(file, source) == "distributor"
            else []
        )
    if not file.sources:
        found += [USUAL["source"], USUAL["source cable"]]
    for reference in file.references.values():
        found += [reference.kit or USUAL["reference"], reference.cable or USUAL["reference cable"]]
    return tuple(dict.fromkeys(found))


def unsaid(assumptions: Iterable[Assumption], path: str) -> tuple[Assumption, ...]:
    """The assumptions at a path or below it."""
    return tuple(a for a in assumptions if a.path == path or a.path.startswith(f"{path}."))


__all__ = ["assumptions_of", "guess", "run_of", "types_used", "unsaid"]
