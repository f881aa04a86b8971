"""What every report is asked for, and what that means in a scenario: groups, topologies, a rig.

In: plain values of a command line. Out: frozen `Asked` and `Made`; groups and variants by name.
Raises InputError for a name that is not there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sim.errors import nearest_name, refuse
from sim.faults import MODES
from sim.report.blocks import Blocks
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario, Variant
from sim.study.promises import NOT
from sim.study.study import VariantStudy


@dataclass(frozen=True, slots=True)
class Asked:
    """What every report is asked for: the scenario's path, the wall group ("" all), the topology
    ("" the one offered), the format, the width of text in characters, the paper of a PDF; the
    files that it is made from, which are never written over; the fault modes meant (none: all).
    """

    path: Path
    group: str = ""
    topology: str = ""
    format: str = "text"
    width: int = 100
    paper: str = ""
    modes: tuple[str, ...] = ()
    inputs: tuple[Path, ...] = ()

    @property
    def page(self) -> bool:
        """Whether a page is asked for; one that is to be printed is made as HTML first."""
        return self.format in ("html", "pdf")

    @property
    def sheet(self) -> str:
        """The size of the paper that a page names: "" for HTML, which whoever prints it decides."""
        return self.paper if self.format == "pdf" else ""


@dataclass(frozen=True, slots=True)
class Made:
    """A result and its exit status."""

    text: str
    status: int = 0


def written(blocks: Blocks, asked: Asked) -> str:
    """Blocks as text, Markdown or a page."""
    if asked.page:
        from sim.report.pages import blocks_page

        return blocks_page(blocks, asked.sheet)
    from sim.report.markdown import as_markdown
    from sim.report.text import as_text

    return as_markdown(blocks) if asked.format == "markdown" else as_text(blocks, asked.width)


def groups_of(scenario: Scenario, asked: Asked) -> tuple[str, ...]:
    """The groups meant. Raises InputError for a name that is not there."""
    if not asked.group:
        return scenario.groups
    if asked.group not in scenario.groups:
        near = nearest_name(asked.group, scenario.groups)
        allowed = ", ".join(scenario.groups)
        raise refuse("--group", f"there is no wall group {asked.group!r}", allowed, near, ALL)
    return (asked.group,)


def variants_of(scenario: Scenario, asked: Asked) -> tuple[Variant, ...]:
    """One topology for each group meant: the one asked for, else the one offered."""
    groups = groups_of(scenario, asked)
    if not asked.topology:
        return tuple(scenario.offered[group] for group in groups)
    every = [variant for group in groups for variant in scenario.variants(group)]
    found = [variant for variant in every if variant.label == asked.topology]
    labels = list(dict.fromkeys(variant.label for variant in every))
    if not found:
        near = nearest_name(asked.topology, labels)
        raise refuse(
            "--topology", f"there is no {asked.topology!r}", "; ".join(labels), near,
            "add it to `against:` of the group",
        )  # fmt: skip
    if len(found) > 1:
        where = ", ".join(variant.group for variant in found)
        raise refuse("--topology", f"{asked.topology!r} is in several groups", where, todo=GROUP)
    return (found[0],)


def modes_of(asked: Asked) -> frozenset[str]:
    """The fault modes meant (none: all). Raises InputError for one that there is not."""
    known = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
    for mode in asked.modes:
        if mode not in known:
            near = nearest_name(mode.lower(), known)
            raise refuse(
                "--mode", f"there is no fault mode {mode!r}", ", ".join(known), near, EVERY
            )
    return frozenset(asked.modes)


def all_modes(asked: Asked, what: str) -> None:
    """Raises InputError where modes are named for what has all of them."""
    if asked.modes:
        raise refuse("--mode", f"is said with {what}, which has all modes", todo=EVERY)


EVERY = "leave --mode out for all modes"


def variant_of(scenario: Scenario, asked: Asked) -> Variant:
    """One topology: the one asked for, else the one offered of the group meant, else of the first
    group.
    """
    chosen = variants_of(scenario, asked) if asked.topology else ()
    groups_of(scenario, asked)
    return chosen[0] if chosen else scenario.offered[asked.group or scenario.groups[0]]


GROUP = "say which with --group"
ALL = "leave --group out for all wall groups"


def rig_for(scenario: Scenario, variant: Variant) -> Rig:
    """The rig with this topology. Raises InputError if it cannot be built."""
    from sim.study.study import rig_of

    _, rig, reasons = rig_of(scenario, variant)
    if rig is None:
        raise refuse(
            f"{variant.group}, {variant.label}", f"it cannot be built: {'; '.join(reasons)}",
            todo="name another with --topology",
        )  # fmt: skip
    return rig


def status_of(studies: Iterable[VariantStudy]) -> int:
    """1 if a topology that is offered does not keep a limit, or cannot be built."""
    offered = [study for study in studies if study.variant.offered]
    return int(any(s.limits_verdict == NOT or not s.can_be_built for s in offered))
