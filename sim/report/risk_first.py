"""The first page of a risk report: how likely, what it costs, what matters, what helps.

In: a frozen `RiskStudy`. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sim.limits.findings import grouped
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.risk_lead import worth_words
from sim.report.risk_sight import sight_words
from sim.report.risk_words import (
    INDICATIVE,
    about,
    amount,
    built,
    by_chance,
    by_ignorance,
    called,
    currency,
    duration,
    exact_money,
    fault_words,
    guessed_share,
    heading,
    help_words,
    indicative,
    level,
    measured,
    odds,
    shows_of,
    shows_words,
    titled,
)
from sim.report.words import counted, harmless, listed, supplier_words, unit_words
from sim.risk.results import Figure, Help, Outlay, RiskRow, RiskStudy, TopologyRisk

NOT_STUDIED = (
    "Wind and weather load, the structure and its rigging, theft and wilful damage, the crowd, "
    "rights in the content: none of these was studied. Any of them may well be the greater risk."
)
TWO_DOUBTS = (
    "Two doubts are kept apart and never added. By chance: what the number of simulated shows "
    "leaves open; more shows make it narrower. By ignorance: what unknown rates and timings leave "
    "open, from the 5th to the 95th percentile; only records and measurements make it narrower. A "
    "wall-second is the whole group dark for a second, or half of it for two."
)
MOST_HELPS = 3


def first_page(study: RiskStudy) -> Iterator[Block]:
    """All that follows the lead on the page that a client reads."""
    yield Heading("How likely")
    yield Para(TWO_DOUBTS)
    yield from chance_blocks(study)
    yield Heading("What it costs")
    yield from _costs(study)
    many = "three risks" if len(study.main.rows) > 2 else "risks"
    yield Heading(f"The {many} that matter")
    yield Points(tuple(_three(study)))
    yield Heading("What helps most")
    yield from helps_blocks(study, study.main.helps[:MOST_HELPS])
    yield Heading("When the backup was last tested")
    yield Points(tuple(backings(study)))
    yield Heading("Whose items")
    yield from _whose(study)
    yield Heading("What was not studied")
    yield Para(NOT_STUDIED)


# ---- how likely


def chance_blocks(study: RiskStudy) -> Iterator[Block]:
    """A small table for each thing that may happen, a row for each topology."""
    for key, name in _keys(study, "chance"):
        yield from figure_table(study, key, name)
    out = [each for each in study.topologies if each.reasons]
    if out:
        yield Points(
            tuple(f"{titled(t)} cannot be built: {harmless('; '.join(t.reasons))}." for t in out)
        )


def _keys(study: RiskStudy, *kinds: str) -> Iterator[tuple[str, str]]:
    """Keys and names of the figures of these kinds, in the order in which they first stand."""
    found = (f for each in built(study) for f in each.figures if f.kind in kinds)
    yield from {f.key: f.name for f in found}.items()


def figure_table(study: RiskStudy, key: str, name: str) -> Iterator[Block]:
    """One figure over all topologies that have it."""
    rows = [(each, each.figure(key)) for each in built(study)]
    yield from figures_table(study, name, [(t, f) for t, f in rows if f is not None])


def figures_table(
    study: RiskStudy, name: str, found: Iterable[tuple[TopologyRisk, Figure]]
) -> Iterator[Block]:
    """A figure with both its doubts; the mark stands in the heading where it is all topologies'."""
    pairs, code = list(found), currency(study)
    if not pairs:
        return
    marked = [indicative(study, [figure]) for _, figure in pairs]
    yield Heading(heading(name, pairs[0][1].kind) + (f" ({INDICATIVE})" * all(marked)), 3)
    sure = listed(dict.fromkeys(level(figure.found) for _, figure in pairs), "or")
    head = (
        "topology", "about", f"by chance\n({sure})", "by ignorance\n(90 %)", "shows",
        "rests on\nplaceholders",
    )  # fmt: skip
    rows = tuple(
        (
            titled(topology), about(figure, code), by_chance(figure, code),
            by_ignorance(figure, code), grouped(figure.found.shows) if figure.found.shows else "-",
            guessed_share(figure.guessed) + _mark(mark and not all(marked)),
        )
        for (topology, figure), mark in zip(pairs, marked, strict=True)
    )  # fmt: skip
    yield Table(head, rows, frozenset({4}))


def _mark(marked: bool) -> str:
    return f"\n{INDICATIVE}" if marked else ""


# ---- what it costs


def _costs(study: RiskStudy) -> Iterator[Block]:
    if not currency(study):
        yield Para(
            "No contract is stated: what each topology needs stands here instead of prices. A unit "
            "is any thing but a cable."
        )
        yield Table(
            ("topology", "units", "fibres", "crew hours"),
            tuple((titled(each), *_needs(each.outlay)) for each in built(study)),
            frozenset({1, 2, 3}),
        )
        return
    losses = [(each, each.loss_expected) for each in built(study)]
    yield from figures_table(
        study, "expected loss of a show", [(t, f) for t, f in losses if f is not None]
    )
    marked = [indicative(study, [loss]) for _, loss in losses]
    yield Heading("Price and rare losses" + f" ({INDICATIVE})" * all(marked), 3)
    yield _rare(study, [mark and not all(marked) for mark in marked])
    yield from _insured(study)


def _needs(outlay: Outlay | None) -> tuple[str, str, str]:
    if outlay is None:
        return ("-", "-", "-")
    hours = f"{float(outlay.crew_hours):.3g}" if outlay.crew_hours else "none stated"
    return (grouped(outlay.units), grouped(outlay.fibres), hours)


def _insured(study: RiskStudy) -> Iterator[Block]:
    """Who bears the expected loss."""
    if study.main.loss_borne is None:
        return
    insurer, owner_ = (amount(part, currency(study)) for part in study.main.loss_borne)
    yield Para(
        f"Of the expected loss of a show with {called(study.main)}, insurance bears {insurer} and "
        f"the owner {owner_}."
    )


def _rare(study: RiskStudy, marked: Sequence[bool]) -> Table:
    code = currency(study)
    head = (
        "topology", "price", "99 of 100\ncost at most", "999 of 1 000\ncost at most",
        "worst\nforeseeable",
    )  # fmt: skip
    rows = tuple(
        (
            titled(each) + _mark(mark),
            *(
                exact_money(value, code)
                for value in (each.price, each.loss_100, each.loss_1000, each.loss_worst)
            ),
        )
        for each, mark in zip(built(study), marked, strict=True)
    )
    return Table(head, rows, frozenset({1, 2, 3, 4}))


# ---- what matters and what helps


def _three(study: RiskStudy) -> Iterator[str]:
    rows, code = study.main.rows[:3], currency(study)
    for row in rows:
        mark = f" ({INDICATIVE})" if row.guessed > study.terms.indicative_above else ""
        yield (
            f"{fault_words(row.name)}: {likelihood(row)}{mark}. From a show it takes "
            f"{listed(consequence(row, code))}. Seen: {_sentence(seen_words(study, row))} Helps: "
            f"{_sentence(row.helps or 'nothing studied here')}"
        )
    if not rows:
        yield "No risk was found in what was studied."


def seen_words(study: RiskStudy, row: RiskRow) -> str:
    """What the audience sees of the worst fault of a row, until it is mended if anybody does."""
    return sight_words(row.seen, study.terms.crew is not None)


def _sentence(text: str) -> str:
    return f"{harmless(text).rstrip('.')}."


def likelihood(row: RiskRow) -> str:
    """How often the audience sees something wrong that it has a part in."""
    chance = row.reaches[-1] if row.reaches else row.defect
    if not chance:
        return "none seen"
    return shows_of(odds(chance)) + ("" if row.defect else ", only with other faults")


def consequence(row: RiskRow, code: str) -> list[str]:
    """What a show loses by it: `1.21 wall-seconds`, `412 EUR on average`, `9 000 EUR at worst`."""
    dark = f"{measured(row.dark, 'wall-seconds')} wall-seconds" if row.dark else "no wall-seconds"
    if not code or row.loss is None:
        return [dark]
    worst = [] if row.worst is None else [f"{exact_money(row.worst, code)} at worst by itself"]
    return [dark, f"{amount(row.loss, code)} on average", *worst]


def helps_blocks(study: RiskStudy, helps: Iterable[Help]) -> Iterator[Block]:
    """What one more protection or test saves against what it costs."""
    found, code = list(helps), currency(study)
    if not found:
        yield Para("Nothing that was tried would help.")
        return
    head = (
        "what",
        "wall-seconds\nsaved a show",
        *(("saved a show", "price", "worth it?") * bool(code)),
    )
    yield Table(head, tuple(_helped(each, code) for each in found))
    if code:
        over = f" A price is paid once for {shows_words(study.price_over)}."
        yield Para(
            "Saved is what the contract would cost less; a good name is not counted. At most: as "
            "if the test, the spare or the second way never failed."
            f"{over * (study.price_over > 1)}"
        )


def _helped(each: Help, code: str) -> tuple[str, ...]:
    most = "at most " * each.bound
    first = (help_words(each), most + measured(each.spares, "wall-seconds"))
    if not code:
        return first
    saved = "-" if each.saves is None else most + amount(each.saves, code)
    price = exact_money(each.price, code)
    return (*first, saved, "not stated" if price == "-" else price, worth_words(each.worth) or "-")


def backings(study: RiskStudy) -> Iterator[str]:
    """Each backup, when it was last tested, and what shows it."""
    for each in study.backings:
        if not each.stated:
            names = listed(unit_words(name) for name in each.things)
            yield f"{names}: nobody said when, so they count as never tested."
            continue
        when = "never" if each.before is None else f"{duration(each.before)} before the show"
        shown = harmless(each.evidence) if each.evidence else "nothing is stated"
        here = "" if each.there else f"; {called(study.main)} has nothing of that name"
        yield f"{harmless(', '.join(each.things))}: {when}; evidence: {shown}{here}."
    if not study.backings:
        yield "No test of any backup is stated: it counts as never tested."


def owner(name: str) -> str:
    """Whose item: `us`, a name, or `nobody named`."""
    return supplier_words(name) or "nobody named"


def _whose(study: RiskStudy) -> Iterator[Block]:
    code, rows = currency(study), study.main.by_supplier
    things = [f"{owner(name)} ({counted(n, 'thing')})" for name, n in study.suppliers.items()]
    if things:
        yield Para(f"The things of the rig belong to {listed(things)}.")
    else:
        yield Para("Whose things they are is not stated.")
    if rows:
        keep = 3 if code else 2
        head = ("whose item fails", "dark, wall-\nseconds a show", "expected loss\na show")
        cells = [
            (owner(name), measured(dark, "wall-seconds"), amount(loss, code) if code else "")
            for name, loss, dark in rows
        ]
        yield Table(head[:keep], tuple(row[:keep] for row in cells))
