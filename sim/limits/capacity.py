"""What the equipment of a rig cannot carry, and what else keeps it from working as planned.

In: what the static limits find. Out: findings by which it cannot be built, and serious ones that
are no such reason.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.limits.findings import Finding

BEYOND = frozenset({"pixels", "chain", "optics", "reach", "seamless"})
"""Kinds of serious finding that say what the equipment cannot carry."""


def grave_findings(
    findings: Iterable[Finding],
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Of findings of the static limits the serious ones: those by which the rig cannot be built,
    then the others.
    """
    found = [each for each in findings if each.severity == "serious"]
    beyond = tuple(each for each in found if each.kind in BEYOND)
    return beyond, tuple(each for each in found if each.kind not in BEYOND)
