"""What stands in and beside each cabinet of a rig.

In: a frozen `Rig`. Out: names of things, by cabinet.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.rig.topology import Rig


def beside(rig: Rig) -> Mapping[str, list[str]]:
    """For each cabinet its receivers, its supply, and the jumpers that end at it."""
    readers: dict[str, list[str]] = {}
    for node in rig.nodes.values():
        for above in node.inputs:
            readers.setdefault(above, []).append(node.name)
    found = {}
    for cabinet in rig.cabinets.values():
        things: dict[str, None] = {}
        for card in cabinet.cards:
            thing = rig.nodes[card].thing
            things[thing] = None
            supplies = (s for s in rig.things[thing].powered_by if rig.things[s].family == "supply")
            for supply in supplies:
                feeds = rig.things[supply].powered_by
                jumpers = (n for n in feeds if rig.things[n].family == "power-jumper")
                things.update(dict.fromkeys((supply, *jumpers)))
            ends = [*rig.nodes[card].inputs, *readers.get(card, ())]
            near = (rig.nodes[n].thing for n in ends)
            things.update(dict.fromkeys(n for n in near if rig.things[n].family == "jumper"))
        found[cabinet.name] = list(things)
    return found
