"""What is wrong, tight, or hangs on one thing in the topologies offered: all that `check` tells.

In: a `Scenario`, perhaps one group and one of its variants. Out: a frozen `Checkup`. Shares are
parts of a group's (or wall's) pixels, delays wall frames (exact), times flicks, margins
thousandths of a dB. Nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from sim.errors import nearest_name, refuse
from sim.limits.alignment import Gap, delay_findings, wall_gaps
from sim.limits.cables import Fibre, fibres
from sim.limits.delays import Jump, Ways, cell_spans, jumps, ways
from sim.limits.findings import Finding, by_severity
from sim.limits.loads import Outlet, PortLoad, load_findings, outlets, port_loads
from sim.limits.picture import picture_findings
from sim.limits.static import build_findings
from sim.limits.trunk_ways import trunk_findings
from sim.rig.topology import Rig
from sim.scenario.kits import Assumption
from sim.scenario.scenario import Scenario, Variant
from sim.study.bunches import bunched
from sim.study.contingency import Laboratory
from sim.study.hangs import Dormant, Handed, Tie, dormant, handed_on, ties
from sim.study.idle import idle_findings
from sim.study.latent import latents
from sim.study.points import SinglePoint, single_points
from sim.study.promises import LOSSES, NOT, PERHAPS, Verdict, verdicts
from sim.study.reasons import Reasons
from sim.study.strikes import role
from sim.study.study import Assessed, assessed

__all__ = ["Checkup", "Delay", "GroupCheck", "Leap", "check"]

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Delay:
    """How late a group's picture is, in frames: least and most by the paths that are fed first, and
    by any. None where some cabinet is not fed.
    """

    usual: Span
    any: Span


@dataclass(frozen=True, slots=True)
class Leap:
    """The greatest jump of like selectors (role) when one leaves its first input, and how many of
    them there are.
    """

    role: str
    count: int
    jump: Jump


@dataclass(frozen=True, slots=True)
class GroupCheck:
    """One wall group with one topology. `reasons` why it cannot be built; then the rest is empty.

    `points`: what by one fault leaves cells dark, lasting. `spoilers`: what by one fault leaves
    cells lasting without the right picture, but not dark.
    """

    variant: Variant
    reasons: tuple[str, ...] = ()
    walls: tuple[str, ...] = ()
    points: tuple[SinglePoint, ...] = ()
    spoilers: tuple[SinglePoint, ...] = ()
    dormant: tuple[Dormant, ...] = ()
    ties: tuple[Tie, ...] = ()
    handed: tuple[Handed, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    delay: Delay | None = None
    leaps: tuple[Leap, ...] = ()
    gaps: tuple[Gap, ...] = ()

    @property
    def name(self) -> str:
        return self.variant.group

    @property
    def left_out(self) -> SinglePoint | None:
        """The gravest fault that limits on a single dead or cut do not judge."""
        found = [p for p in (*self.points, *self.spoilers) if p.mode not in LOSSES]
        return max(found, key=lambda point: point.gravity, default=None)


@dataclass(frozen=True, slots=True)
class Checkup:
    """`findings` of the whole rig, the gravest first; `groups` those that were asked for."""

    scenario: Scenario
    groups: tuple[GroupCheck, ...]
    findings: tuple[Finding, ...]
    ports: tuple[PortLoad, ...]
    outlets: tuple[Outlet, ...]
    fibres: tuple[Fibre, ...]
    assumptions: tuple[Assumption, ...]


def check(scenario: Scenario, group: str = "", variant: Variant | None = None) -> Checkup:
    """Check every group with the topology offered, or one group, or one group with a variant.

    Raises InputError on an unknown group.
    """
    group = group or (variant.group if variant else "")
    if group and group not in scenario.groups:
        near = nearest_name(group, scenario.groups)
        todo = "leave the group out for all wall groups"
        known = ", ".join(scenario.groups)
        raise refuse("check", f"there is no wall group {group!r}", known, near, todo)
    chosen = variant or scenario.offered[group or scenario.groups[0]]
    fit = assessed(scenario, chosen)
    plan = fit.plan
    if (rig := fit.rig) is None:
        return _unbuilt(scenario, chosen, fit)
    made = ways(rig)
    names = (group,) if group else scenario.groups
    groups = tuple(
        _group(scenario, chosen if name == chosen.group else scenario.offered[name], rig, made)
        for name in names
    )
    return Checkup(
        scenario=scenario,
        groups=groups,
        findings=by_severity(
            (
                *fit.limits,
                *(f for each in groups for f in _own_findings(each)),
                *delay_findings(rig),
                *picture_findings(rig),
                *idle_findings(scenario),
                *trunk_findings(plan),
            )
        ),
        ports=port_loads(plan, scenario.bits),
        outlets=outlets(plan),
        fibres=fibres(plan, rig),
        assumptions=scenario.assumptions,
    )


def _unbuilt(scenario: Scenario, chosen: Variant, fit: Assessed) -> Checkup:
    """What can be said of a rig that cannot be built; one that only its equipment's limits keep
    from it has static findings.
    """
    plan = fit.plan
    found = fit.limits or by_severity((*build_findings(plan), *load_findings(plan, scenario.bits)))
    told = found or tuple(Finding("serious", "build", chosen.group, text) for text in fit.unfit)
    return Checkup(
        scenario=scenario,
        groups=(GroupCheck(chosen, fit.unfit),),
        findings=told,
        ports=port_loads(plan, scenario.bits),
        outlets=outlets(plan),
        fibres=(),
        assumptions=scenario.assumptions,
    )


def _group(scenario: Scenario, variant: Variant, rig: Rig, made: Ways) -> GroupCheck:
    name = variant.group
    laboratory = Laboratory(rig, name)
    outcomes = bunched(laboratory)
    reasons = Reasons(rig, laboratory.group, laboratory.wiring)
    points, spoilers = single_points(laboratory, outcomes, reasons)
    return GroupCheck(
        variant=variant,
        walls=tuple(laboratory.canvas.walls),
        points=points,
        spoilers=spoilers,
        dormant=dormant(laboratory, latents(laboratory, outcomes)),
        ties=ties(outcomes, name),
        handed=handed_on(rig, laboratory.group, reasons.ways),
        verdicts=verdicts(scenario.limits, laboratory.canvas, outcomes),
        delay=_delay(rig, made, name),
        leaps=_leaps(rig, made, name),
        gaps=wall_gaps(rig, made, name) if _fed(rig, name) else (),
    )


def _fed(rig: Rig, group: str) -> bool:
    return all(c.cards for c in rig.cabinets.values() if c.group == group)


def _delay(rig: Rig, made: Ways, group: str) -> Delay | None:
    if not _fed(rig, group):
        return None
    spans = cell_spans(rig, made, group)
    usual = [span.usual / rig.frame for span in spans]
    least, most = min(s.least for s in spans), max(s.most for s in spans)
    return Delay((min(usual), max(usual)), (least / rig.frame, most / rig.frame))


def _leaps(rig: Rig, made: Ways, group: str) -> tuple[Leap, ...]:
    """For each role of the group's selectors the greatest jump."""
    found: dict[str, list[Jump]] = {}
    for jump in jumps(rig, made):
        if _owner(rig, jump.selector) == group:
            found.setdefault(role(jump.selector, group), []).append(jump)
    return tuple(
        Leap(name, len({j.selector for j in of}), max(of, key=lambda j: abs(j.flicks)))
        for name, of in found.items()
    )


def _owner(rig: Rig, selector: str) -> str:
    if selector in rig.cabinets:
        return rig.cabinets[selector].group
    return rig.things[rig.nodes[selector].thing].group


# ---- findings of a group's own


def _own_findings(check: GroupCheck) -> Iterator[Finding]:
    for reason in check.reasons:
        yield Finding("serious", "build", check.name, reason)
    for verdict in check.verdicts:
        yield from _limit(check, verdict)
    for handed in check.handed:
        yield _loop(check, handed)


def _limit(check: GroupCheck, verdict: Verdict) -> Iterator[Finding]:
    count = len(verdict.breakers) or len(verdict.suspects)
    faults = f"{count} single fault{'s' * (count != 1)}"
    figures = (("faults", count),)
    if verdict.verdict == NOT:
        text = f"limit not met: {verdict.limit.label}: {faults} break it however the timings lie"
        todo = "see which faults with `staylit faults`, or choose another topology"
        yield Finding("serious", "limit", check.name, text, todo, figures)
    elif verdict.verdict == PERHAPS:
        text = f"limit perhaps met: {verdict.limit.label}: {faults} may break it"
        todo = "measure the timings that decide: `staylit compare` names them"
        yield Finding("warning", "limit", check.name, text, todo, figures)


def _loop(check: GroupCheck, handed: Handed) -> Finding:
    layers = " and ".join(handed.layers)
    text = (
        f"{handed.second} gets the layer {layers} through the active loop-through of "
        f"{handed.first}: when {handed.first} dies, loses power or restarts, {handed.second} "
        f"loses it in the same instant"
    )
    text += (
        ", and falls back on another source" if handed.spare else ", so it cannot stand in for it"
    )
    todo = "feed the second unit from a distributor, or make the loop-through passive"
    severity = "note" if handed.spare else "warning"
    return Finding(severity, "loop-through", check.name, text, todo)
