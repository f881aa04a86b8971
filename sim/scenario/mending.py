"""How things are mended where a scenario with a crew does not say: the catalogue's repairs.

In: a file's crew. Out: `Repair`s for every family that somebody can mend during a show. All times
are placeholders, ranges from general trade knowledge, from memory; never use them as points.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sim.faults import MODES, OF_ITSELF, SOFT
from sim.rig.figures import RANGES, TRADE, Fact, timing, trade
from sim.rig.terms import PLACEHOLDER, Law, Repair
from sim.scenario.risk_entries import CrewEntry


@dataclass(frozen=True, slots=True)
class Mending:
    """The catalogue's way to mend some modes of a family: how, and how long the work takes."""

    by: str
    modes: tuple[str, ...]
    fix: Fact


TRAVEL = trade("1", "5", "min")
DIAGNOSE = trade("1", "10", "min")
RESET = trade("0.2", "1", "min")
"""To press the button; booting comes on top, as the `start` of the thing."""
JUMPER, MODULE = RANGES["repair, jumper from behind"], RANGES["repair, module"]
UNIT, STRAND = RANGES["repair, scaling unit swap"], RANGES["repair, spare strand"]
SWAPS: Mapping[str, Fact] = {
    "source": UNIT, "reference": UNIT, "distributor": UNIT, "processor": UNIT, "relay": UNIT,
    "port": UNIT, "supply": UNIT, "receiver": MODULE, "jumper": JUMPER, "power-jumper": JUMPER,
    "copper": JUMPER, "fibre": STRAND,
}  # fmt: skip
"""What takes a spare; what has no figure of its own takes as long as a scaling unit."""
RESTARTED = ("source", "processor", "relay")
"""Whose soft faults a restart ends."""
CALLED: Mapping[str, str] = {
    "copper": "copper cable", "fibre": "fibre (on a spare strand)", "supply": "cabinet supply",
    "receiver": "receiving card", "processor": "scaling unit", "power-jumper": "power jumper",
    "control-link": "control link", "relay": "relay unit",
}  # fmt: skip
"""Families in the words of a report, where these differ."""


def mendings(family: str) -> tuple[Mending, ...]:
    """How a family is mended, mode by mode; nothing for what is not mended before the end."""
    if family == "selector":
        return (Mending("restart", MODES[family], RESET),)
    if family not in SWAPS:
        return ()
    lasting = tuple(mode for mode in MODES[family] if mode not in OF_ITSELF)
    if family not in RESTARTED:
        return (Mending("swap", lasting, SWAPS[family]),)
    soft = tuple(mode for mode in lasting if mode in SOFT or mode == "moved")
    hard = tuple(mode for mode in lasting if mode not in soft)
    return Mending("swap", hard, SWAPS[family]), Mending("restart", soft, RESET)


def law_of(fact: Fact) -> Law:
    """A range as a random time: anywhere in it alike. Raises KeyError if the fact is no time."""
    made = timing("fix", fact, 0)
    return Law("uniform", made.least, made.most, source=f"{PLACEHOLDER}; {fact} ({TRADE})")


def usual_repairs(crew: CrewEntry) -> Iterator[Repair]:
    """The catalogue's repairs of every family that the crew does not say itself."""
    said = {each.family for each in crew.repairs if each.family and not each.modes}
    for family in (name for name in MODES if name not in said):
        for each in mendings(family):
            remote = each.by == "restart" and family == "processor" and crew.control is not None
            yield Repair(
                by="remote" if remote else each.by,
                travel=crew.travel or law_of(TRAVEL),
                diagnose=crew.diagnose or law_of(DIAGNOSE),
                fix=law_of(each.fix),
                family=family,
                modes=each.modes,
            )
