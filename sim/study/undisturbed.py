"""How much of the walls shows which carrier's picture while nothing is wrong, added up once.

In: the carrier that each cabinet shows, its patches. Out: shares by carrier and stack, of all
cabinets but some; in the order of the cabinets that come first.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from sim.study.effects import Key, Patch, Share, shares

Entry = tuple[int, int, Key, Share]
"""The place of the first cabinet, that of the stack among its patches, the key, what shows it."""
Patches = Mapping[int, Sequence[Patch]]
"""By number of a cabinet."""


def shown_by(kinds: Mapping[int, object], patches: Patches) -> dict[Key, Share]:
    """How much of the walls these cabinets show, by kind and stack."""
    return shares(
        ((kind, patch.stack), patch)
        for cabinet, kind in kinds.items()
        for patch in patches.get(cabinet, ())
    )


class Undisturbed:
    """The cabinets of a rig by the carrier that they show (`carriers`, `patches`: by its
    name; `numbers` for each name). `live`: all carriers.
    """

    def __init__(
        self,
        carriers: Mapping[str, str],
        numbers: Mapping[str, int],
        patches: Mapping[str, Sequence[Patch]],
    ) -> None:
        self.carriers = {numbers[name]: carrier for name, carrier in carriers.items()}
        self.patches: Patches = {numbers[name]: of for name, of in patches.items()}
        self.cabinets: dict[str, list[tuple[int, int]]] = {}
        for place, (number, carrier) in enumerate(self.carriers.items()):
            self.cabinets.setdefault(carrier, []).append((place, number))
        self.whole: dict[str, list[Entry]] = {}
        self.live = frozenset(self.cabinets) - {""}

    def spots(self) -> dict[int, tuple[tuple[int, int], ...]]:
        """Stacks and areas (pixels) of each cabinet, by number."""
        return {
            number: tuple((patch.stack, patch.area) for patch in of)
            for number, of in self.patches.items()
        }

    def without(self, noticing: Collection[int]) -> dict[Key, Share]:
        """The shares of all cabinets but these (numbers)."""
        touched = {self.carriers[number] for number in noticing if number in self.carriers}
        entries: list[Entry] = []
        for carrier, cabinets in self.cabinets.items():
            if carrier in touched:
                left = [(place, n) for place, n in cabinets if n not in noticing]
                entries += self._entries(carrier, left)
            else:
                if carrier not in self.whole:
                    self.whole[carrier] = self._entries(carrier, cabinets)
                entries += self.whole[carrier]
        entries.sort(key=lambda entry: entry[:2])
        return {key: share for _, _, key, share in entries}

    def _entries(self, carrier: str, cabinets: Sequence[tuple[int, int]]) -> list[Entry]:
        first: dict[Key, tuple[int, int]] = {}
        shown: list[tuple[Key, Patch]] = []
        for place, number in cabinets:
            for among, patch in enumerate(self.patches.get(number, ())):
                key = (carrier, patch.stack)
                first.setdefault(key, (place, among))
                shown.append((key, patch))
        return [(*first[key], key, share) for key, share in shares(shown).items()]
