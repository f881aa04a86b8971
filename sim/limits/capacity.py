"""What the equipment of a rig cannot carry, and what else keeps it from working as planned.

In: a `ShowPlan`, its built `Rig`, the bits per colour. Out: reasons as sentences why it cannot be
built, and serious findings that are no such reason.
"""

from __future__ import annotations

from sim.limits.findings import Finding
from sim.limits.static import limit_findings
from sim.rig.plan import ShowPlan
from sim.rig.topology import Rig

BEYOND = frozenset({"pixels", "chain", "optics", "reach", "seamless"})
"""Kinds of serious finding that say what the equipment cannot carry."""


def grave_findings(
    plan: ShowPlan, rig: Rig, bits: int
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """The serious findings of the static limits: those by which the rig cannot be built, then the
    others.
    """
    found = [each for each in limit_findings(plan, rig, bits) if each.severity == "serious"]
    beyond = tuple(each for each in found if each.kind in BEYOND)
    return beyond, tuple(each for each in found if each.kind not in BEYOND)
