"""Which strikes do the same to like parts of a rig, found once for each key of like strikes.

In: the wiring of a rig, its kinds, what each cabinet shows of the walls. Out: two numbers for what
is struck: of the part that can notice it, and of how much of the walls shows that part.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import cached_property

from sim.engine.branches import Keys, keys
from sim.engine.symmetry import Kinds
from sim.engine.wiring import Wiring
from sim.study.effects import Patch

Struck = tuple[str, ...]
Likeness = tuple[int, int]


class Alike:
    """The likeness of strikes as far as it is known. `patches`: by name of a cabinet; None: every
    strike is looked at by itself, as walls are looked at together. `still`: the picture of each
    carrier (by number) when nothing is wrong.
    """

    def __init__(
        self,
        wiring: Wiring,
        kinds: Kinds,
        patches: Mapping[str, Sequence[Patch]] | None,
        still: Mapping[int, Hashable],
    ) -> None:
        self.wiring, self.kinds, self.patches, self.still = wiring, kinds, patches, still
        self.known: dict[Struck, Likeness] = {}
        self.by_key: dict[Hashable, Likeness] = {}

    def of(self, struck: Struck, work_out: Callable[[Struck], Likeness]) -> Likeness:
        """The likeness of a strike: that of the first one with its key, else worked out."""
        if struck not in self.known:
            key = self.key(struck)
            found = self.by_key.get(key) if key is not None else None
            self.known[struck] = found = found or work_out(struck)
            if key is not None:
                self.by_key[key] = found
        return self.known[struck]

    def key(self, struck: Struck) -> Hashable | None:
        """Equal for strikes that do the same wherever they strike; None: it must be looked at."""
        return self._keys.of(struck) if self._keys else None

    @cached_property
    def _keys(self) -> Keys | None:
        if self.patches is None:
            return None
        shown = {
            number: tuple(
                [(p.wall, p.stack, p.area, p.regions) for p in self.patches.get(name, ())]
            )
            for number, name in self.wiring.cabinets.items()
        }
        return keys(self.wiring, self.kinds, shown, self.still)
