"""What `check` tells: findings by severity, what hangs on one thing and why, figures, assumptions.

In: a frozen `Checkup`. Out: text, Markdown, a JSON-able document, or CSV.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sim.limits.findings import SEVERITIES, Finding
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.check_delays import delays
from sim.report.check_figures import figures
from sim.report.check_lines import csv
from sim.report.folding import folded
from sim.report.lead import left_out_words
from sim.report.markdown import as_markdown
from sim.report.reasonwords import because
from sim.report.rowtext import by_state
from sim.report.text import as_text
from sim.report.values import as_values, head
from sim.report.words import (
    counted,
    harmless,
    listed,
    plain,
    shares,
    struck_words,
    unit_words,
    wall_words,
)
from sim.scenario.kits import Assumption
from sim.study.checkup import Checkup, GroupCheck
from sim.study.hangs import Dormant, Tie
from sim.study.points import SinglePoint
from sim.timebase import Rate, show_time

CHECK = "staylit-check 1"


def text(checkup: Checkup, width: int = 100) -> str:
    """The report as text."""
    return as_text(blocks(checkup), width)


def markdown(checkup: Checkup) -> str:
    """The report as Markdown."""
    return as_markdown(blocks(checkup))


def document(checkup: Checkup) -> dict[str, Any]:
    """Everything that `check` works out."""
    values = as_values(
        {
            "findings": checkup.findings,
            "groups": checkup.groups,
            "ports": checkup.ports,
            "outlets": checkup.outlets,
            "fibres": checkup.fibres,
            "assumptions": checkup.assumptions,
        }
    )
    return {**head(CHECK, checkup.scenario), **values}


def blocks(checkup: Checkup) -> Blocks:
    """The whole report."""
    found: list[Block] = [
        Heading(f"{checkup.scenario.title}: check of the rig", 1),
        Para(_summary(checkup)),
        Heading("Findings, the gravest first"),
        _findings(checkup.findings),
    ]
    for group in checkup.groups:
        found += _group(group, checkup.scenario.rate)
    found += figures(checkup)
    found += assumed(checkup.assumptions)
    return (*found, Heading("Cautions"), CAUTIONS)


def _summary(checkup: Checkup) -> str:
    chosen = listed(
        [f"{harmless(g.name)} with {harmless(g.variant.label)}" for g in checkup.groups]
    )
    points = [p.severity for g in checkup.groups for p in (*g.points, *g.spoilers)]
    said = _by_severity([f.severity for f in checkup.findings])
    return (
        f"For {chosen}: findings: {said}; kinds of single fault that leave something not lit, "
        f"lasting: {_by_severity(points)}. "
        f"{counted(len(checkup.assumptions), 'assumption')} fill in what the scenario does not say."
    )


def _by_severity(found: Sequence[str]) -> str:
    """`1 serious, 4 warnings and 2 notes`; `none`."""
    counts = [(severity, found.count(severity)) for severity in SEVERITIES]
    many = {"serious": "serious"}
    some = [counted(n, severity, many.get(severity, "")) for severity, n in counts if n]
    return listed(some) or "none"


def _findings(found: Sequence[Finding]) -> Block:
    said = folded([(plain(f.subject), (f.severity, f.text, f.todo)) for f in found])
    return Points(tuple(_finding(name, *of) for name, of in said) or ("No findings.",))


def _finding(subject: str, severity: str, text: str, todo: str) -> str:
    more = f" To do: {harmless(todo)}." if todo else ""
    return f"{severity}: {subject}: {harmless(text)}.{more}"


# ---- one group


def _group(group: GroupCheck, rate: Rate) -> Iterator[Block]:
    yield Heading(f"Wall group {harmless(group.name)}: {harmless(group.variant.label)}")
    if group.reasons:
        yield Para(f"Cannot be built: {'; '.join(map(harmless, group.reasons))}.")
        return
    yield Heading("Single points: one fault leaves cells dark, lasting", 3)
    silent = [p for p in group.points if not p.valid]
    fooled = [p for p in group.points if p.valid]
    yield Para(_whole_walls([p for p in silent if p.mode != "flapping"], fooled))
    yield Para("Because nothing arrives:" if silent else "Nothing goes dark by one loss alone.")
    yield from _points(silent)
    if fooled:
        yield Para("By a valid signal that is black, which every backup accepts:")
        yield from _points(fooled)
    if group.spoilers:
        yield Heading("Not dark, but not the picture meant, lasting", 3)
        yield from _points(group.spoilers, states=True)
    yield Heading("Backups whose failure does not show on the wall", 3)
    yield from _dormant(group.dormant)
    yield Heading("Protections that race", 3)
    yield Points(tuple(_tie(tie, rate) for tie in group.ties) or ("None is known to race.",))
    yield Heading("Limits", 3)
    limits = tuple(f"{v.verdict}: {harmless(v.limit.label)}" for v in group.verdicts)
    yield Points((*limits, *_not_judged(group)) or ("No limit is stated for this group.",))
    yield Heading("Delay", 3)
    yield Points(tuple(delays(group)))


def _not_judged(group: GroupCheck) -> Iterator[str]:
    """What limits on a single dead or cut leave out, with the gravest of it."""
    narrow = [number for number, verdict in enumerate(group.verdicts, 1) if verdict.narrow]
    worst = group.left_out
    if narrow and worst is not None:
        mode = _modes([worst])
        cost = shares(worst.dark if worst.dark[1] else worst.lost)
        yield (
            f"{left_out_words(narrow, len(group.verdicts))}; the gravest of these: "
            f"{struck_words(worst.role, worst.mode, True)} {mode} "
            f"({cost} {_state([worst], not worst.dark[1])}, lasting)."
        )


def _whole_walls(silent: Sequence[SinglePoint], fooled: Sequence[SinglePoint]) -> str:
    """What makes a whole wall dark, in one sentence."""
    loss, black = (
        listed(dict.fromkeys(struck_words(p.role, p.mode, True) for p in points if p.whole))
        for points in (silent, fooled)
    )
    said = (
        f"One loss makes a whole wall dark: {loss}."
        if loss
        else "No single loss makes a whole wall dark."
    )
    return said + (f" A valid but black signal does, from {black}." if black else "")


def _points(points: Sequence[SinglePoint], states: bool = False) -> Iterator[Block]:
    """Points of one role with equal shares and reasons in one sentence."""
    alike: dict[tuple[str, ...], list[SinglePoint]] = {}
    for point in points:
        share_of = shares(point.lost if states else point.dark)
        key = (
            point.severity,
            struck_words(point.role, point.mode, True),
            share_of,
            because(point, states),
        )
        alike.setdefault(key, []).append(point)
    told = [
        (name, (severity, _count(of[0]), f"{_modes(of)}: {share_of} {_state(of, states)}", why))
        for (severity, name, share_of, why), of in alike.items()
    ]
    if told:
        yield Points(
            tuple(
                f"{severity}: {count}{name} {what}, because {why}"
                for name, (severity, count, what, why) in folded(told)
            )
        )


def _count(point: SinglePoint) -> str:
    return f"any of {point.count}: " if point.count > 1 else ""


def _modes(points: Iterable[SinglePoint | Dormant]) -> str:
    return ", ".join(
        dict.fromkeys(p.mode + (f" to {plain(p.detail)}" if p.detail else "") for p in points)
    )


def _state(points: Sequence[SinglePoint], states: bool) -> str:
    """What it shows, and of which walls it takes all."""
    first = points[0]
    if states:
        return listed(dict.fromkeys(s for p in points for s in p.states), "or")
    some = " with some timings only" if not first.dark[0] else ""
    walls = listed([f"all of {wall_words(wall)}" for wall in first.whole])
    return f"dark{some}" + (f" ({walls})" if walls and first.dark[1] < 1 else "")


def _dormant(found: Sequence[Dormant]) -> Iterator[Block]:
    if not found:
        yield Para("None: no single fault that does not show makes a second one worse.")
        return
    yield Para(
        "That these fail does not show, and some other thing that dies, or cable that is cut, "
        "then leaves more not lit than it would alone (judged with every timing typical). What no "
        "monitor reports stays so until somebody tests it."
    )
    alike: dict[tuple[str, ...], list[Dormant]] = {}
    for row in found:
        watched = "its monitor" if row.monitored else "nobody"
        alike.setdefault(
            (unit_words(row.role), watched, _second(row.second), *map(by_state, row.states)), []
        ).append(row)  # fmt: skip
    told = [
        (name, (_modes(of), str(max(len(d.where) for d in of)), *rest))
        for (name, *rest), of in alike.items()
    ]
    rows = tuple((f"{name} {modes}", *rest) for name, (modes, *rest) in folded(told))
    heads = ("fails unseen", "how many", "reported by", "then comes", "lost alone", "lost together")
    yield Table(heads, rows, frozenset({1}))


def _second(name: str) -> str:
    what, _, mode = name.rpartition(" ")
    return f"{unit_words(what)} {mode}"


def _tie(tie: Tie, rate: Rate) -> str:
    restores, waits = (
        f"{show_time(least, rate)} to {show_time(most, rate)}"
        for least, most in (tie.restores, tie.waits)
    )
    return (
        f"Which of the two acts first depends on where their timings lie: {plain(tie.before)} "
        f"brings the picture back in {restores}, {plain(tie.behind)} waits {waits} before it "
        f"leaves ({counted(tie.faults, 'single fault')}, such as {plain(tie.example)})"
    )


def assumed(assumptions: Sequence[Assumption]) -> Iterator[Block]:
    """What the scenario does not say, and what stands for it."""
    yield Heading(f"Assumptions: {len(assumptions)}")
    yield Para(
        "What the scenario does not say is taken the unfavourable way. Write it at its place and "
        "the assumption goes away; `staylit explain PLACE` tells what it moves."
    )
    rows = tuple((a.path, a.what, a.value, a.grade, a.source) for a in assumptions)
    yield Table(("place", "what", "taken", "grade", "source"), rows)


__all__ = ["CHECK", "assumed", "blocks", "csv", "document", "markdown", "text"]
