"""What `check` tells as CSV: one line for each finding, point, latent fault, race and assumption.

In: a frozen `Checkup`. Out: text.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sim.report.reasonwords import because
from sim.report.tables import as_csv
from sim.study.checkup import Checkup, GroupCheck
from sim.study.strikes import fault_name

HEAD = (
    "group", "topology", "kind", "severity", "what", "count", "least", "most", "states", "text",
    "where",
)  # fmt: skip


def csv(checkup: Checkup) -> str:
    """One line for each finding, single point, spoiler, latent protection, race and assumption."""
    return as_csv(HEAD, (dict.fromkeys(HEAD) | record for record in _records(checkup)))


def _records(checkup: Checkup) -> Iterator[dict[str, Any]]:
    for f in checkup.findings:
        yield {"kind": f"finding: {f.kind}", "severity": f.severity, "what": f.subject,
               "text": f.text}  # fmt: skip
    for group in checkup.groups:
        place = {"group": group.name, "topology": group.variant.label}
        for record in _group_records(group):
            yield {**place, **record}
    for a in checkup.assumptions:
        said = f"{a.what}: {a.value} ({a.grade}; {a.source})"
        yield {"kind": "assumption", "what": a.path, "text": said}


def _group_records(group: GroupCheck) -> Iterator[dict[str, Any]]:
    for kind, points in (("single point", group.points), ("spoiler", group.spoilers)):
        for p in points:
            least, most = p.dark if kind == "single point" else p.lost
            yield {
                "kind": kind, "severity": p.severity, "what": p.name, "count": p.count,
                "least": least, "most": most, "states": p.states, "text": because(p),
                "where": p.where,
            }  # fmt: skip
    for d in group.dormant:
        said = f"then {d.second}; {'monitored' if d.monitored else 'not monitored'}"
        name = fault_name(d.role, d.mode, d.detail)
        yield {"kind": "latent", "what": name, "count": len(d.where), "least": d.alone,
               "most": d.together, "text": said, "where": d.where}  # fmt: skip
    for tie in group.ties:
        yield {"kind": "race", "what": f"{tie.before} and {tie.behind}", "count": tie.faults,
               "text": tie.example}  # fmt: skip
    for verdict in group.verdicts:
        yield {"kind": "limit", "what": verdict.limit.label, "text": verdict.verdict}
