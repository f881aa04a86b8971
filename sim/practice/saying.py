"""What is seen of a rig in the words in which somebody may say it, for `evidence` to take apart.

In: a `Desk`, a `Look`. Out: texts as `--seen` and `--report` take them.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.practice.desk import Desk, Spot
from sim.practice.evidence import BLINKED, ELSE, LOOSE, STEADILY, STEADY
from sim.practice.library import Look
from sim.practice.symptoms import WHAT, Report


def seen_of(desk: Desk, look: Look) -> tuple[str, ...]:
    """The whole wall picture: each cabinet that is not lit or was not for a while; all else is."""
    states: dict[str, dict[str, int]] = {}
    for spot, word in _words(look):
        of = states.setdefault(spot[0], {})
        of[word] = of.get(word, 0) + 1
    spots: dict[str, int] = {}
    for cabinet, _ in desk.patches:
        spots[cabinet] = spots.get(cabinet, 0) + 1
    told = [
        f"{cabinet} {'all ' if count == spots[cabinet] else ''}{word}"
        for cabinet, of in states.items()
        for word, count in of.items()
    ]
    return (*told, f"{ELSE} {STEADY}")


def _words(look: Look) -> Iterator[tuple[Spot, str]]:
    yield from look.shown.spots.items()
    for spot in sorted(look.blinked):
        yield spot, BLINKED


def reports_of(look: Look) -> tuple[str, ...]:
    """All that units and links report whenever somebody asks, and the alarms that have come."""
    also = {(report.kind, report.name): report.says for report in look.also}
    alarms = tuple(alarm.text for alarm in look.shown.alarms) or ("no alarm",)
    told = (_report(r, also.get((r.kind, r.name), r.says)) for r in look.shown.reports)
    return (*told, *alarms)


def _report(report: Report, also: str) -> str:
    said = LOOSE if also != report.says else f"{STEADILY}{report.says}"
    return f"{report.kind} {report.name}: {WHAT[report.kind]} {said}"
