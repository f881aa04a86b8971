"""What `explain` tells about one item: its value, grade and source, and what it moves.

In: a frozen `Explanation`. Out: text, Markdown, a JSON-able document, or CSV.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from sim.limits.findings import first_few, kind_words
from sim.report.assumption_blocks import assumption_blocks
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.kit_facts import kit_facts, rate_blocks
from sim.report.markdown import as_markdown
from sim.report.outcome_rows import outcome_rows
from sim.report.reasonwords import because
from sim.report.tables import as_csv
from sim.report.text import as_text
from sim.report.values import as_values, head
from sim.report.words import (
    counted,
    frames_words,
    harmless,
    listed,
    plain,
    supplier_words,
)  # fmt: skip
from sim.scenario.kits import Assumption
from sim.study.effects import STATES
from sim.study.strikes import Strike
from sim.study.swings import Swing
from sim.study.told import (
    AssumptionTold,
    Explanation,
    FigureTold,
    LimitTold,
    Outcomes,
    PlaceTold,
    ThingTold,
    TimingTold,
    TypeTold,
    WordTold,
)
from sim.timebase import Rate, Timing, show_time

EXPLAIN = "staylit-explain 1"
MOST = 12  # so many names are written out; JSON has all


def text(explanation: Explanation, width: int = 100) -> str:
    """The report as text."""
    return as_text(blocks(explanation), width)


def markdown(explanation: Explanation) -> str:
    """The report as Markdown."""
    return as_markdown(blocks(explanation))


def document(explanation: Explanation) -> dict[str, Any]:
    """Everything that `explain` works out."""
    return {
        **head(EXPLAIN, explanation.scenario),
        "item": explanation.item,
        "kind": explanation.kind,
        "topologies": as_values(explanation.variants),
        "told": as_values(explanation.told),
    }


HEAD = ("item", "kind", "what", "text")


def csv(explanation: Explanation) -> str:
    """One line for each thing that is told."""
    lines = [(name, said) for block in blocks(explanation)[1:-2] for name, said in _lines(block)]
    return as_csv(
        HEAD,
        (dict(zip(HEAD, (explanation.item, explanation.kind, *ln), strict=True)) for ln in lines),
    )


def _lines(block: Block) -> Iterator[tuple[str, str]]:
    if isinstance(block, Table):
        yield from ((row[0], "; ".join(cell for cell in row[1:] if cell)) for row in block.rows)
    elif isinstance(block, Points):
        yield from (("", said) for said in block.texts)
    elif isinstance(block, Para):
        yield "", block.text


def blocks(explanation: Explanation) -> Blocks:
    """The whole report."""
    title_of = f"{harmless(explanation.item)}: {explanation.kind}"
    found: list[Block] = [Heading(title_of, 1), *TELLERS[type(explanation.told)](explanation)]
    return (*found, Heading("Cautions"), CAUTIONS)


def _where(explanation: Explanation) -> str:
    with_ = listed([f"{harmless(v.group)} with {harmless(v.label)}" for v in explanation.variants])
    return f"In the rig of {with_}:"


def _facts(rows: Iterable[tuple[str, str]]) -> Table:
    return Table(("what", "value"), tuple(row for row in rows if row[1]))


def _assumed(found: Sequence[Assumption]) -> Iterator[Block]:
    if found:
        yield Heading("Assumed, because the scenario does not say it")
        rows = tuple((a.path, a.what, a.value, a.grade, a.source) for a in found)
        yield Table(("place", "what", "taken", "grade", "source"), rows)


def _names(names: Sequence[str]) -> str:
    return first_few([plain(name) for name in names], MOST)


# ---- a timing, a figure, a type


def _timing(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, TimingTold)
    rate = explanation.scenario.rate
    yield _facts(_range(told.timing, rate))
    if not told.users:
        yield Para("Nothing in this rig uses it, so it moves nothing.")
        return
    yield Heading("What it moves")
    users = f"{counted(told.users, 'thing')} {'has' if told.users == 1 else 'have'} this timing"
    yield Para(f"{_where(explanation)} {users}.")
    yield Points(tuple(_swing(each, rate, told.timing) for each in told.swings))


def _range(timing: Timing, rate: Rate) -> Iterator[tuple[str, str]]:
    for name, value in (
        ("least", timing.least), ("typical", timing.typical), ("most", timing.most),
    ):  # fmt: skip
        yield name, show_time(value, rate)
    yield "grade", timing.grade
    yield "source", harmless(timing.source) or "the scenario"
    if timing.shelters:
        yield "shelters", "it keeps the picture up: the longer, the better"


def _swing(each: Swing, rate: Rate, timing: Timing) -> str:
    if not each.faults:
        return f"{harmless(each.group)}: no single fault makes anything wait for it."
    make = "makes" if each.faults == 1 else "make"
    said = f"{harmless(each.group)}: {counted(each.faults, 'single fault')} {make} something wait"
    said += " for it"
    if timing.least == timing.most:
        return f"{said}; it has one value, so nothing is in doubt."
    said += (
        f"; {each.moved or 'none'} of them cost other frames, or frames in another state, at its "
    )
    said += "most than at its least"
    if each.worst is None:
        return f"{said}."
    least, most = (show_time(value, rate) for value in (timing.least, timing.most))
    return (
        f"{said}. Moved most: {plain(each.worst)}: {_cost(each.at_least, each.verdicts[0])} at "
        f"{least}; {_cost(each.at_most, each.verdicts[1])} at {most}; all other timings typical."
    )


def _cost(spans: Sequence[tuple[int, int]], verdict: str) -> str:
    """`dark 1..21 frames (blink)`; of what lasts only the cells that come back have frames."""
    found = [f"{n} {frames_words(s)}" for n, s in zip(STATES, spans, strict=True) if s[1]]
    if verdict == "lasting":
        return f"lasting{', where it comes back ' * bool(found)}{listed(found)}"
    return f"{listed(found) or 'no frame'} ({verdict})"


def _figure(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, FigureTold)
    source = "the scenario, or the catalogue's type that it is like"
    figure = told.field.replace("_", " ")
    told_of = (("type", told.kit), ("figure", figure), ("value", told.value), ("source", source))
    yield _facts(((name, harmless(value)) for name, value in told_of))


def _type(explanation: Explanation) -> Iterator[Block]:
    told, rate = explanation.told, explanation.scenario.rate
    assert isinstance(told, TypeTold)
    kit = told.kit
    yield _facts(kit_facts(kit, told))
    if kit.timings:
        yield Heading("Timings")
        rows = (_timing_row(name, timing, rate) for name, timing in kit.timings.items())
        yield Table(("timing", "least", "typical", "most", "grade", "source"), tuple(rows))
    yield from rate_blocks(told.rates)
    yield from _assumed(told.assumptions)


def _timing_row(name: str, timing: Timing, rate: Rate) -> tuple[str, ...]:
    values = (show_time(v, rate) for v in (timing.least, timing.typical, timing.most))
    return (name, *values, timing.grade, harmless(timing.source))


# ---- a thing, a route, a limit, an assumption, a word


def _thing(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, ThingTold)
    yield _facts(
        (
            ("kind", kind_words(told.family)),
            ("type", harmless(told.kit)),
            ("supplier", supplier_words(told.supplier)),
            ("place", harmless(told.place)),
            ("monitored", "yes" if told.monitored else "no"),
            ("powered by", _names(told.powered_by)),
            ("takes from", _names(told.takes_from)),
            ("feeds", _names(told.feeds)),
            ("powers", _names(told.powers)),
            ("routes", listed(map(harmless, told.routes))),
        )
    )
    yield from _outcomes(explanation, told.outcomes)


def _route(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, PlaceTold)
    lie = "lies" if len(told.things) == 1 else "lie"
    yield Para(f"{counted(len(told.things), 'cable')} {lie} on it: {_names(told.things)}.")
    yield from _outcomes(explanation, told.outcomes)


def _outcomes(explanation: Explanation, found: Sequence[Outcomes]) -> Iterator[Block]:
    yield Heading("What its faults do")
    yield Para(_where(explanation))
    if not found:
        yield Para("No wall group hangs on it.")
    if any(row.verdict == "unseen" for each in found for row in each.rows):
        yield Para("What is unseen may be a backup that nobody misses: `staylit check` tells.")
    for each in found:
        yield Heading(f"Wall group {harmless(each.group)}: {harmless(each.variant.label)}", 3)
        yield from outcome_rows(each.rows)
        reasons = tuple(f"{plain(p.role)} {p.mode}: because {because(p)}" for p in each.points)
        if reasons:
            yield Points(reasons)


def _limit(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, LimitTold)
    for group, variant, verdict in told.verdicts:
        yield Heading(f"Wall group {harmless(group)}: {harmless(variant.label)}")
        limit, rate = verdict.limit, explanation.scenario.rate
        yield _facts(
            (
                ("verdict", verdict.verdict),
                ("faults meant", limit.any),
                ("time", f"{show_time(limit.time, rate)}: {counted(limit.frames, 'frame')}"),
                ("broken for certain by", _strikes(verdict.breakers)),
                ("perhaps broken by", _strikes(verdict.suspects)),
            )
        )


def _strikes(found: Sequence[Strike]) -> str:
    return first_few([plain(name) for name in dict.fromkeys(s.name for s in found)], MOST)


def _assumption(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, Assumption | AssumptionTold)
    yield from assumption_blocks(told)


def _word(explanation: Explanation) -> Iterator[Block]:
    told = explanation.told
    assert isinstance(told, WordTold)
    yield Para(told.meaning)
    if told.strikes:
        yield Para(f"As a fault it strikes: {listed(map(kind_words, told.strikes))}.")


TELLERS: dict[type[object], Callable[[Explanation], Iterator[Block]]] = {
    TimingTold: _timing, FigureTold: _figure, TypeTold: _type, ThingTold: _thing,
    PlaceTold: _route, LimitTold: _limit, Assumption: _assumption,
    AssumptionTold: _assumption, WordTold: _word,
}  # fmt: skip
