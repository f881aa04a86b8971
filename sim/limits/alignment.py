"""Whether what should be seen at once is seen at once: mirrored walls, neighbours, changes of path.

In: a built `Rig` and its `Ways`. Out: gaps in flicks (exact), and findings about delays.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from sim.limits.delays import Jump, Span, Ways, cell_spans, jumps, ways
from sim.limits.findings import Finding, decimal, in_words, kind_words, micro
from sim.rig.topology import Cabinet, Rig


@dataclass(frozen=True, slots=True)
class Gap:
    """How far two walls, or two neighbouring cabinets, are apart in time (flicks, exact).

    `usual`: on the paths that are fed first; `most`: on any.
    """

    one: str
    other: str
    usual: Fraction
    most: Fraction


def wall_gaps(rig: Rig, made: Ways, group: str) -> tuple[Gap, ...]:
    """For each two walls that show the same picture: how far apart, at the worst cabinet.

    Walls of one grid are held against each other cabinet by cabinet, others as a whole.
    """
    plan = rig.groups[group]
    if not plan.mirrored:
        return ()
    spans = _first_cells(rig, made, group)
    walls = list(plan.walls)
    return tuple(
        _wall_gap(one, other, spans) for i, one in enumerate(walls) for other in walls[i + 1 :]
    )


Place = tuple[str, int, int]


def _first_cells(rig: Rig, made: Ways, group: str) -> dict[Place, Span]:
    """Delays by wall, row and column, of each cabinet's first cell."""
    found: dict[Place, Span] = {}
    for cell, span in zip(rig.groups[group].cells, cell_spans(rig, made, group), strict=True):
        cabinet = rig.cabinets[cell.cabinet]
        found.setdefault((cabinet.wall, cabinet.row, cabinet.column), span)
    return found


def _wall_gap(one: str, other: str, spans: Mapping[Place, Span]) -> Gap:
    ours, theirs = (
        {place[1:]: span for place, span in spans.items() if place[0] == wall}
        for wall in (one, other)
    )
    pairs = [(span, theirs[place]) for place, span in ours.items() if place in theirs]
    if set(ours) != set(theirs):
        pairs = [(a, b) for a in ours.values() for b in theirs.values()]
    usual = max(abs(a.usual - b.usual) for a, b in pairs)
    return Gap(one, other, usual, max(_apart(a, b) for a, b in pairs))


def _apart(a: Span, b: Span) -> Fraction:
    return max(a.most - b.least, b.most - a.least)


def neighbour_gap(rig: Rig, made: Ways, group: str, wall: str) -> Gap | None:
    """The two neighbouring cabinets of a wall that are furthest apart; None for a single one."""
    return neighbour_gaps(rig, made, group).get(wall)


def neighbour_gaps(rig: Rig, made: Ways, group: str) -> dict[str, Gap]:
    """The same for each wall of a group that has neighbours."""
    of: dict[str, dict[Place, Span]] = {}
    for place, span in _first_cells(rig, made, group).items():
        of.setdefault(place[0], {})[place] = span
    names = {(c.wall, c.row, c.column): n for n, c in rig.cabinets.items() if c.group == group}
    found = ((wall, _widest(names, spans)) for wall, spans in of.items())
    return {wall: gap for wall, gap in found if gap}


def _widest(names: Mapping[Place, str], spans: Mapping[Place, Span]) -> Gap | None:
    found = [
        Gap(names[place], names[beside], abs(span.usual - spans[beside].usual),
            _apart(span, spans[beside]))
        for place, span in spans.items()
        for beside in ((place[0], place[1] + 1, place[2]), (place[0], place[1], place[2] + 1))
        if beside in spans
    ]  # fmt: skip
    return max(found, key=lambda gap: (gap.usual, gap.most), default=None)


def delay_findings(rig: Rig) -> Iterator[Finding]:
    """How late each group is, what is out of step, and what moves when a selector changes.

    A group with a cabinet on no chain is left out: the static limits tell of it.
    """
    made = ways(rig)
    fed = [name for name in rig.groups if _all_fed(rig, name)]
    for group in fed:
        yield _lateness(rig, made, group)
        yield from _out_of_step(rig, made, group)
    yield from _jumps(rig, made)
    if made.capped:
        text = f"{len(made.capped)} places have more paths than are listed: least and most hold"
        yield Finding("note", "delay", "rig", text, "", (("places", len(made.capped)),))


def _all_fed(rig: Rig, group: str) -> bool:
    return all(rig.cabinets[cell.cabinet].cards for cell in rig.groups[group].cells)


def _frames(rig: Rig, flicks: Fraction) -> str:
    return f"{decimal(flicks / rig.frame)} frames"


def _between(rig: Rig, least: Fraction, most: Fraction) -> str:
    low, high = (decimal(value / rig.frame) for value in (least, most))
    return f"{low} frames" if low == high else f"{low} to {high} frames"


def _lateness(rig: Rig, made: Ways, group: str) -> Finding:
    spans = cell_spans(rig, made, group)
    usual = (min(s.usual for s in spans), max(s.usual for s in spans))
    least, most = min(s.least for s in spans), max(s.most for s in spans)
    text = (
        f"the picture is {_between(rig, *usual)} late on the usual paths, "
        f"{_between(rig, least, most)} over all paths"
    )
    names = ("usual least", "usual most", "least", "most")
    figures = zip((f"{name}, flicks" for name in names), (*usual, least, most), strict=True)
    return Finding("note", "delay", group, text, "", tuple(figures))


def _out_of_step(rig: Rig, made: Ways, group: str) -> Iterator[Finding]:
    gaps = [("walls that show the same picture", gap) for gap in wall_gaps(rig, made, group)]
    beside = neighbour_gaps(rig, made, group)
    gaps += [("neighbouring cabinets", beside[w]) for w in rig.groups[group].walls if w in beside]
    for what, gap in gaps:
        if gap.usual:
            text = (
                f"{what}, {gap.one} and {gap.other}, are {micro(gap.usual)} "
                f"({_frames(rig, gap.usual)}) apart, up to {micro(gap.most)} by other paths"
            )
            grave = "warning" if gap.usual >= rig.frame else "note"
            todo = "delay the earlier one to match" if grave == "warning" else ""
            figures = (("usual, flicks", gap.usual), ("most, flicks", gap.most))
            yield Finding(grave, "misalignment", group, text, todo, figures)


def _jumps(rig: Rig, made: Ways) -> Iterator[Finding]:
    """For each group and family of selectors the greatest jump that is none at all."""
    worst: dict[tuple[str, str], Jump] = {}
    for jump in jumps(rig, made):
        key = _owner(rig, jump.selector)
        before = worst[key].frames if key in worst else Fraction(0)
        if abs(jump.frames) > abs(before):
            worst[key] = jump
    for (group, family), jump in worst.items():
        late = jump.flicks > 0
        text = (
            f"when {in_words(jump.selector)} leaves its first input the picture comes "
            f"{micro(abs(jump.flicks))} {'later' if late else 'earlier'}: {_whole(jump)} "
            f"{'shown again' if late else 'left out'}; no {kind_words(family)} of {group} "
            "moves it more"
        )
        grave = "warning" if abs(jump.frames) >= 1 else "note"
        yield Finding(grave, "jump", group, text, "", (("jump, frames", jump.frames),))


def _whole(jump: Jump) -> str:
    """How many frames a jump repeats or leaves out."""
    few, many = sorted((abs(jump.fewest), abs(jump.most)))
    return f"{many} frame{'s' * (many != 1)}" if few == many else f"{few} to {many} frames"


def _owner(rig: Rig, selector: str) -> tuple[str, str]:
    """Group and family of what a selector, or a cabinet with two cards, belongs to."""
    cabinet: Cabinet | None = rig.cabinets.get(selector)
    if cabinet is not None:
        return cabinet.group, "cabinet"
    thing = rig.things[rig.nodes[selector].thing]
    return thing.group or "rig", thing.family
