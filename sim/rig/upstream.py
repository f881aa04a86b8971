"""From the sources to what each unit sends: cables, distributors, loop-throughs, layers, sync.

In: a `Draft` and the sites of its groups. Out: things and nodes added to the draft; `unit` gives
the carrier node of a unit. Delays are exact flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sim.faults import Quality
from sim.rig.draft import Draft, Site
from sim.rig.kit import Kit, Run, cable_delay, first_match
from sim.rig.plan import NO_RUN, Choice, GroupPlan, LayerPlan, ReferencePlan, SourcePlan
from sim.rig.topology import Carrier, Emit, Layer, Pass, Sync


@dataclass(frozen=True, slots=True)
class Feeds:
    """All sources and references by name; `shared`: sources that go through a distributor."""

    sources: Mapping[str, SourcePlan]
    references: Mapping[str, ReferencePlan]
    shared: frozenset[str]


def feeds(draft: Draft, sites: Iterable[Site]) -> Feeds:
    """Build every source, reference and distributor of the show."""
    show = draft.show
    takers: dict[str, set[str]] = {}
    for site in sites:
        for unit in site.layout.units:
            for choice in all_choices(site.plan):
                takers.setdefault(choice.source, set()).add(site.full(unit))
    sources = {source.name: source for source in show.sources}
    shared = {
        name
        for name, units in takers.items()
        if len(units) > 1 and name in sources and sources[name].second == "distributor"
    }
    made = Feeds(sources, {each.name: each for each in show.references}, frozenset(shared))
    for source in show.sources:
        _source(draft, source, source.name in shared)
    for reference in show.references:
        _reference(draft, reference)
    return made


def choices(group: GroupPlan, layer: LayerPlan) -> tuple[Choice, ...]:
    """The inputs of a layer that the group's options leave it."""
    return layer.choices[:1] if group.options.fallback == "none" else layer.choices


def all_choices(group: GroupPlan) -> tuple[Choice, ...]:
    """Every input of every layer."""
    return tuple(choice for layer in group.layers for choice in choices(group, layer))


def references(group: GroupPlan, unit: str) -> tuple[str, ...]:
    """The references of a unit in order of preference, as the group's options leave them."""
    names = first_match(group.own_references, unit, group.references)
    return names[:1] if group.options.references == "one" else names


def link_name(stem: str, links: int, link: int) -> str:
    """One cable of a source: numbered only where there are several."""
    return f"{stem}/{link}" if links > 1 else stem


def _source(draft: Draft, source: SourcePlan, shared: bool) -> None:
    thing = draft.kit_thing(
        source.name,
        source.kit,
        powered_by=source.circuits,
        place=source.place,
        supplier=source.supplier,
    )
    out = draft.node(
        Emit(name=f"{thing}#out", thing=thing, frame=source.frame, delay=source.kit.delay)
    )
    if shared and source.distributor is not None:
        _distributor(draft, source, source.distributor, out)


def _distributor(draft: Draft, source: SourcePlan, kit: Kit, out: str) -> None:
    name = f"{source.name}/distributor"
    circuits, supplier = source.distributor_circuits, source.supplier
    draft.kit_thing(name, kit, powered_by=circuits, place=source.place, supplier=supplier)
    run = first_match(source.runs, "distributor", NO_RUN)
    for link in range(1, source.links + 1):
        stem = link_name(f"{source.name}/to-distributor", source.links, link)
        cable = _cable(draft, stem, source, run, out)
        draft.node(Pass(name=f"{name}#{link}", thing=name, inputs=(cable,), delay=kit.delay))


def _reference(draft: Draft, plan: ReferencePlan) -> None:
    thing = draft.kit_thing(
        plan.name, plan.kit, powered_by=plan.circuits, place=plan.place, supplier=plan.supplier
    )
    draft.node(Emit(name=f"{thing}#out", thing=thing, delay=plan.kit.delay))


def _cable(draft: Draft, name: str, of: SourcePlan | ReferencePlan, run: Run, reads: str) -> str:
    """A cable of a source or reference and its one node; one that is there already stays."""
    draft.kit_thing(name, of.cable, run, supplier=of.supplier)
    return draft.node(
        Pass(name=f"{name}>", thing=name, inputs=(reads,), delay=cable_delay(of.cable, run))
    )


def unit(site: Site, made: Feeds, local: str) -> str:
    """Build a unit, or what this group adds to a shared one; the name of its carrier node."""
    draft, plan = site.draft, site.plan
    name = site.full(local)
    kit = site.kit("unit", local)
    if local not in plan.shared:
        site.add(local, "unit", powered_by=site.circuits(local))
    content = (plan.layers, plan.arrangements, plan.options.fallback == "none")
    known = draft.outs.setdefault(name, [])
    for other, carrier in known:
        if other == content:
            return carrier
    mark = f" {plan.name}" if known else ""
    layers = tuple(_layer(site, made, local, layer, mark) for layer in plan.layers)
    node = Carrier(
        name=f"{name}#out{mark}",
        thing=name,
        sync=_sync(site, made, local),
        layers=layers,
        arrangement=plan.arrangements[0].name,
        delay=kit.delay,
    )
    known.append((content, draft.node(node)))
    return node.name


def _layer(site: Site, made: Feeds, local: str, layer: LayerPlan, mark: str) -> str:
    draft, thing, kit = site.draft, site.full(local), site.kit("unit", local)
    name = f"{thing}#layer {layer.name}{mark}"
    inputs = [_taken(site, made, local, choice) for choice in choices(site.plan, layer)]
    return draft.node(
        Layer(
            name=name,
            thing=thing,
            inputs=tuple(node for node, _ in inputs),
            selector=draft.selector(name, kit, thing),
            layer=layer.name,
            on_loss=layer.on_loss or kit.on_loss,
            caps=tuple(
                int(min(cap, _cap(choice, number)))
                for number, (choice, (_, cap)) in enumerate(
                    zip(choices(site.plan, layer), inputs, strict=True)
                )
            ),
        )
    )


def _cap(choice: Choice, number: int) -> Quality:
    return Quality.GOOD if number == 0 or choice.same_picture else Quality.WRONG


def _taken(site: Site, made: Feeds, local: str, choice: Choice) -> tuple[str, Quality]:
    """The node by which a unit takes an input in, and the best that it can count as."""
    source = made.sources[choice.source]
    order = site.layout.units
    further = order.index(local) > 0
    if further and source.second == "own":
        own = made.sources[source.own]
        cap = Quality.GOOD if source.own_same else Quality.WRONG
        return _direct(site, made, own, local, choice.link), cap
    if further and source.second == "loop-through":
        before = order[order.index(local) - 1]
        return _looped(site, made, source, (before, local), choice.link), Quality.GOOD
    return _direct(site, made, source, local, choice.link), Quality.GOOD


def _direct(site: Site, made: Feeds, source: SourcePlan, local: str, link: int) -> str:
    name = site.full(local)
    reads = f"{source.name}#out"
    if source.name in made.shared and source.distributor is not None:
        reads = f"{source.name}/distributor#{link}"
    stem = link_name(f"{source.name}/to-{name}", source.links, link)
    run = first_match(source.runs, name, NO_RUN)
    return _cable(site.draft, stem, source, run, reads)


def _looped(site: Site, made: Feeds, source: SourcePlan, units: tuple[str, str], link: int) -> str:
    """Through the unit before: an active loop-through dies with it, a passive one is only wire."""
    draft, before, name = site.draft, site.full(units[0]), site.full(units[1])
    reads, _ = _taken(site, made, units[0], Choice(source.name, link))
    if site.kit("unit", units[0]).loop_through == "active":
        loop = f"{before}#loop {link_name(source.name, source.links, link)}"
        reads = draft.node(Pass(name=loop, thing=before, inputs=(reads,), feels=frozenset()))
    stem = link_name(f"{source.name}/loop-to-{name}", source.links, link)
    run = first_match(source.runs, name, NO_RUN)
    return _cable(draft, stem, source, run, reads)


def _sync(site: Site, made: Feeds, local: str) -> str:
    """How a unit follows its references; "" if it follows none."""
    draft, thing, kit = site.draft, site.full(local), site.kit("unit", local)
    names = references(site.plan, local)
    if not names:
        return ""
    inputs = []
    for plan in (made.references[name] for name in names):
        run = first_match(plan.runs, thing, NO_RUN)
        stem = f"{plan.name}/to-{thing}"
        inputs.append(_cable(draft, stem, plan, run, f"{plan.name}#out"))
    return draft.node(
        Sync(
            name=f"{thing}#sync",
            thing=thing,
            inputs=tuple(inputs),
            selector=draft.selector(f"{thing}#reference", kit, thing, "reference_"),
            holdover=draft.key(kit, "holdover", thing),
            relock=draft.key(kit, "relock", thing),
            relock_glitch=draft.key(kit, "relock_glitch", thing),
            drift=kit.drift,
        )
    )
