"""Why a single fault leaves cabinets without the right picture: found in the graph, put in kinds.

In: a `Rig` with one of its groups, a `Strike` that lasts. Out: frozen `Reason`s; `check` puts them
into sentences. Names are those of the rig without the group and its numbers (roles).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from sim.engine.wiring import Wiring
from sim.faults import SOFT, SOFT_CAPS, Quality
from sim.rig.topology import Cabinet, Carrier, Group, Layer, Pass, Rig, Selector
from sim.study.strikes import Strike, role
from sim.study.survival import Break, Survival, Ways

SENDS = {**SOFT_CAPS, "stuck": Quality.FROZEN, "attenuated": Quality.CORRUPT}
"""The quality of what still arrives after a fault that leaves a valid signal."""
GONE = frozenset({"dead", "cut", "tripped", "flapping"})


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. `cabinets` says how many it is about (`fewest`: where of like faults
    some are about fewer; else 0), `walls` which walls as a whole.

    By `kind`, with `names` and `about`:
    card: they are its own cards. power: nothing else powers them.
    way: every way to them runs through `names`. held: the choices `names` stay where they are,
    although `lost` is gone.
    layer: every way to a layer of a unit (`about`: unit, layer) runs through `names`.
    layer held: the layer's choice stays, although `lost` is gone.
    loop: the unit takes the layer through the unit `names`.
    other picture: what stands in for the layer is not the picture meant.
    reference: every way of references to the unit `about` runs through `names`.
    valid: what arrives is a valid signal of a `quality`; the choices `names` accept it, the
    choices `about` would not. unjudged: it only touches layers of the units `about`, below which
    no choice looks at the picture; `names` as for valid. moved: somebody chose it.
    comes and goes: it is back before the choices `names` have left it for good.
    pending: the timers `names` had not run out. unexplained: none of these.
    """

    kind: str
    names: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    cabinets: int = 0
    walls: tuple[str, ...] = ()
    quality: str = ""
    lost: tuple[str, ...] = ()
    fewest: int = 0


class Reasons:
    """One group of a rig, asked about strike after strike."""

    def __init__(self, rig: Rig, group: Group, wiring: Wiring | None = None) -> None:
        """`wiring`: of this rig, if there is one already."""
        self.rig, self.group, self.ways = rig, group, Ways(rig, wiring)
        self.cabinets = [c for c in rig.cabinets.values() if c.group == group.name]
        intended = (stack[group.arrangements[0]] for stack in group.stacks)
        self.shown = {placement.layer for placements in intended for placement in placements}
        self.ours = self.ways.above([card for c in self.cabinets for card in c.cards])
        self.place = {card: n for n, c in enumerate(self.cabinets) for card in c.cards}
        self.origins = [_first_fed(cabinet, self.ways.quiet) for cabinet in self.cabinets]
        self.known: dict[Hashable, tuple[Reason, ...]] = {}
        self.never = {place for place, origin in enumerate(self.origins) if not origin}

    def of(
        self,
        strike: Strike,
        dark: bool,
        pending: tuple[str, ...] = (),
        likeness: Hashable | None = None,
    ) -> tuple[Reason, ...]:
        """Why a strike that lasts leaves cells dark (or else: not lit, but not dark). `likeness`:
        equal for strikes that do the same (None: it is not known which); where a reason names
        nothing but what is struck, it is worked out once for all of these.
        """
        key, own = (likeness, strike.mode, dark, pending), self._role(strike.where)
        if key in self.known:
            names = ((), (own,))
            return tuple(replace(r, names=names[len(r.names)]) for r in self.known[key])
        found = self._found(strike, dark, pending)
        if likeness is not None and all(_of_itself(reason, own) for reason in found):
            self.known[key] = found
        return found

    def _found(self, strike: Strike, dark: bool, pending: tuple[str, ...]) -> tuple[Reason, ...]:
        if strike.mode == "moved":
            return (Reason("moved"),)
        if strike.mode in SENDS:
            return tuple(self._valid(strike))
        found = tuple(self._gone(strike, dark)) if strike.mode in GONE else ()
        if found:
            return found
        if strike.mode == "flapping":
            choices = self._choices(self._below(strike))
            return (Reason("comes and goes", _roles(self.group.name, map(_name, choices))),)
        return (Reason("pending", pending) if pending else Reason("unexplained"),)

    # ---- nothing arrives

    def _gone(self, strike: Strike, dark: bool) -> Iterator[Reason]:
        left = self.ways.without(strike.struck)
        lost, struck = self._lost(left), set(strike.struck)
        own = [c for c in lost if self._cards(c) <= struck]
        bare = [c for c in lost if not self._cards(c) <= struck and self._cards(c) <= left.down]
        cut = [c for c in lost if not self._cards(c) <= left.down]
        for kind, cabinets in (("card", own), ("power", bare)):
            if cabinets:
                yield self._about(Reason(kind), cabinets)
        if dark:
            cut = [c for c in cut if not self._keeps(c)]
        if cut:
            yield from self._cut(cut, left)
        for carrier in self._used(left):
            yield from self._layers(carrier, left, dark)
            if carrier.sync and carrier.sync not in left.feeds and not dark:
                front = self.ways.broken([carrier.sync], left).front
                yield Reason("reference", self._roles(front), (self._role(carrier.thing),))

    def _lost(self, left: Survival) -> list[Cabinet]:
        """The cabinets to which nothing comes any more."""
        places = {self.place[name] for name in left.changed if name in self.place}
        where = (self.cabinets[place] for place in sorted(places | self.never))
        return [c for c in where if not any(card in left.feeds for card in c.cards)]

    def _cards(self, cabinet: Cabinet) -> set[str]:
        return {self.rig.nodes[card].thing for card in cabinet.cards}

    def _keeps(self, cabinet: Cabinet) -> bool:
        """Whether its last picture stays to the end of the show."""
        keys = [getattr(self.rig.nodes[card], "keeps_last", "") for card in cabinet.cards]
        return any(key and self.rig.timings[key].typical >= self.rig.length for key in keys)

    def _about(self, reason: Reason, cabinets: list[Cabinet]) -> Reason:
        count = {wall: rows * columns for wall, (rows, columns, *_) in self.group.walls.items()}
        found = Counter(cabinet.wall for cabinet in cabinets)
        whole = [wall for wall, number in count.items() if found[wall] == number]
        return replace(reason, cabinets=len(cabinets), walls=tuple(whole))

    def _cut(self, cabinets: list[Cabinet], left: Survival) -> Iterator[Reason]:
        ends = [card for c in cabinets for card in c.cards]
        found = self.ways.broken([e for e in ends if self._up(e, left)], left)
        if found.held:
            reason = Reason("held", self._roles(found.held), lost=self._roles(found.front))
            yield self._about(reason, cabinets)
        else:
            yield self._about(Reason("way", self._roles(found.front)), cabinets)

    def _up(self, node: str, left: Survival) -> bool:
        return self.rig.nodes[node].thing not in left.down

    def _used(self, left: Survival) -> list[Carrier]:
        """The carriers that the cabinets which are left are fed from."""
        origins = list(self.origins)
        for place in {self.place[name] for name in left.changed if name in self.place}:
            origins[place] = _first_fed(self.cabinets[place], left.feeds)
        nodes = [self.rig.nodes[name] for name in dict.fromkeys(origins) if name]
        return [node for node in nodes if isinstance(node, Carrier)]

    def _layers(self, carrier: Carrier, left: Survival, dark: bool) -> Iterator[Reason]:
        for layer in (self.rig.nodes[name] for name in carrier.layers):
            if not isinstance(layer, Layer) or layer.layer not in self.shown:
                continue
            about = (self._role(carrier.thing), layer.layer)
            if layer.name not in left.feeds:
                if not dark or layer.on_loss == "black":
                    found = self.ways.broken([layer.name], left)
                    yield self._layer(carrier, about, found)
            elif not dark and _stands_in(layer, left):
                yield Reason("other picture", (), about)

    def _layer(self, carrier: Carrier, about: tuple[str, ...], found: Break) -> Reason:
        loops = [t for t in found.front if self._loops(t) and t != carrier.thing]
        if found.held:
            lost = self._roles(found.front)
            return Reason("layer held", self._roles(found.held), about, lost=lost)
        return Reason("loop" if loops else "layer", self._roles(loops or found.front), about)

    def _loops(self, thing: str) -> bool:
        return any(is_loop(self.rig, name) for name in self.ways.nodes_of(thing))

    # ---- a valid signal arrives

    def _valid(self, strike: Strike) -> Iterator[Reason]:
        quality = SENDS[strike.mode]
        below = self._below(strike)
        choices, units = self._choices(below), self._units(below)
        takes = [s for s in choices if s.accepts_above < quality]
        leaves = [s for s in choices if s.accepts_above >= quality]
        kind = "unjudged" if units else "valid"
        about = self._roles(units or map(_name, leaves))
        yield Reason(kind, self._roles(map(_name, takes)), about, quality=quality.name.lower())

    def _below(self, strike: Strike) -> list[str]:
        """The nodes to which what a strike spoils can come."""
        mode = {"attenuated": "corrupt"}.get(strike.mode, strike.mode)
        nodes = (self.rig.nodes[n] for thing in strike.struck for n in self.ways.nodes_of(thing))
        return self.ways.below(n.name for n in nodes if mode not in SOFT or mode in n.feels)

    def _choices(self, below: Iterable[str]) -> list[Selector]:
        """The selectors of the group among these nodes that have several inputs."""
        place = self.ways.place
        nodes = (self.rig.nodes[name] for name in below if place[name] in self.ours)
        found = (getattr(n, "selector", None) for n in nodes if len(n.inputs) > 1)
        return [selector for selector in found if selector is not None]

    def _units(self, below: Iterable[str]) -> list[str]:
        """The units of the group to whose layers these nodes lead."""
        carriers = (self.rig.nodes[name] for name in self.group.carriers)
        reached = set(below)
        return [
            c.thing for c in carriers if isinstance(c, Carrier) and reached.intersection(c.layers)
        ]

    def _role(self, name: str) -> str:
        return role(name, self.group.name)

    def _roles(self, names: Iterable[str]) -> tuple[str, ...]:
        return _roles(self.group.name, names)


def _of_itself(reason: Reason, own: str) -> bool:
    """Whether a reason names nothing but what is struck (a role)."""
    return reason.names in ((), (own,)) and not reason.about and not reason.lost


def _first_fed(cabinet: Cabinet, feeds: Mapping[str, str]) -> str:
    """What comes to the first of its cards to which anything does."""
    return next((feeds[card] for card in cabinet.cards if card in feeds), "")


def _roles(group: str, names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(role(name, group) for name in names))


def _name(selector: Selector) -> str:
    return selector.name


def _stands_in(layer: Layer, left: Survival) -> bool:
    """Whether the layer then shows an input that is not the picture meant."""
    chosen = next((i for i, name in enumerate(layer.inputs) if name in left.feeds), 0)
    return bool(layer.caps) and layer.caps[chosen] < Quality.GOOD


def is_loop(rig: Rig, name: str) -> bool:
    """Whether a node is an active loop-through: a processor that hands a source on."""
    node = rig.nodes[name]
    return isinstance(node, Pass) and rig.things[node.thing].family == "processor"
