"""Files of what tests of the real rig showed, as `staylit proof --read` writes them.

In: a tree of texts, where each path stands in its file, the scenario that names the file. Out: a
frozen `Proved`: measured timings by key, what was tested, or problems in five parts. Times are
flicks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Any

from pydantic import Field, ValidationError

from sim.errors import InputError, Problem, nearest_name
from sim.rig.equipment import TYPES
from sim.rig.kit import TIMINGS
from sim.rig.terms import Terms, Tested
from sim.scenario.entries import Entry, said
from sim.scenario.fields import Reading, TimingText, word
from sim.scenario.kits import Assumption
from sim.scenario.messages import Path, problems_of
from sim.scenario.models import ScenarioFile
from sim.scenario.risk_entries import TestedEntry
from sim.timebase import Rate, Timing

FORMAT = "1"
HOLD_UP = "hold_up"
AGAIN = "write the file again with `staylit proof --read`"


class ProofFile(Entry):
    """A whole file: timings by their key (an owner, a point, the timing), what was tested."""

    format: Annotated[str, word(FORMAT)] = said("the format's number", FORMAT)
    timings: dict[str, TimingText] = Field(default_factory=dict)
    tested: tuple[TestedEntry, ...] = ()


@dataclass(frozen=True, slots=True)
class Proved:
    """What tests showed: timings by key, and what was tested when."""

    timings: Mapping[str, Timing] = field(default_factory=dict)
    tested: tuple[Tested, ...] = ()

    def joined(self, other: Proved) -> Proved:
        """Both; what stands in the later file counts."""
        return Proved({**self.timings, **other.timings}, (*other.tested, *self.tested))


def proved_of(tree: Any, where: Callable[[Path], str], file: ScenarioFile, rate: Rate) -> Proved:
    """What a file holds. Raises InputError with every problem found."""
    try:
        made = ProofFile.model_validate(tree, context=Reading(rate))
    except ValidationError as error:
        raise InputError(problems_of(error, ProofFile, where)) from None
    wrong = [problem for key in made.timings for problem in _unknown(key, where, file)]
    if wrong:
        raise InputError(wrong)
    tested = (
        Tested(things, entry.before, entry.evidence)
        for entry in made.tested
        for things in entry.things
    )
    return Proved(dict(made.timings), tuple(tested))


def _unknown(key: str, where: Callable[[Path], str], file: ScenarioFile) -> Iterable[Problem]:
    owner, _, what = key.rpartition(".")
    place = where(("timings", key))
    fields = (HOLD_UP,) if owner in file.circuits else TIMINGS
    owners = (*file.equipment, *file.circuits, *file.timings, *TYPES)
    if owner not in owners:
        found, near = f"{key!r} is a timing of nothing in the scenario", nearest_name(owner, owners)
        yield Problem(place, found, "a type, a circuit or a thing, a point, a timing", near, AGAIN)
    elif what not in fields:
        found, near = f"{owner} has no timing {what!r}", nearest_name(what, fields)
        yield Problem(place, found, ", ".join(fields), near, AGAIN)


def with_tested(terms: Terms, proved: Proved) -> Terms:
    """What a show is held to; tests of the file stand before what the scenario says of them."""
    return replace(terms, tested=(*proved.tested, *terms.tested))


def still_assumed(
    assumptions: Iterable[Assumption], proved: Mapping[str, Timing]
) -> tuple[Assumption, ...]:
    """The assumptions that no measured timing replaces."""
    gone = {f"equipment.{owner}.timings.{what}" for owner, what in map(_split, proved)}
    gone |= {f"circuits.{owner}.{what}" for owner, what in map(_split, proved) if what == HOLD_UP}
    return tuple(each for each in assumptions if each.path not in gone)


def _split(key: str) -> tuple[str, str]:
    owner, _, what = key.rpartition(".")
    return owner, what
