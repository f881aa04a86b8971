"""The lead of a risk report: what it comes to for the topology offered, in sentences.

In: a frozen `RiskStudy`. Out: paragraphs, each made from what the study holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from sim.limits.findings import first_few, grouped
from sim.report.blocks import Block, Para, Points
from sim.report.risk_words import (
    INDICATIVE,
    NOT_WORTH,
    about,
    amount,
    built,
    by_chance,
    by_ignorance,
    called,
    currency,
    duration,
    exact_money,
    guessed_share,
    indicative,
    measured,
    shows_of,
    shows_words,
    with_unit,
)
from sim.report.words import counted, harmless, listed
from sim.risk.results import Figure, Help, RiskStudy, TopologyRisk

MOST = 4
"""So many figures stand in the lead; all are in the tables."""


def lead_blocks(study: RiskStudy) -> Iterator[Block]:
    """Warnings first where the figures are less than they seem, then what they come to."""
    main = study.main
    out = [each for each in study.topologies if each.variant.offered and each.reasons]
    if out or main.reasons:
        one = (*out, main)[0]
        yield Para(f"{called(one)} cannot be built: {harmless('; '.join(one.reasons))}.")
    if not main.reasons:
        yield from _chances(study, main)
        yield Para(
            " ".join(
                (*_dark(study, main), *_money(study, main), *_others(study), *_help(study, main))
            )
        )
    yield from _warnings(study)


def _chances(study: RiskStudy, main: TopologyRisk) -> Iterator[Block]:
    chances = [f for f in main.figures if f.kind == "chance"][:MOST]
    if chances:
        yield Para(
            f"With {called(main)}, {_word(main)}, these are the odds of a show of "
            f"{duration(study.length)}{_mark(study, *chances)}."
        )
        yield Points(tuple(map(_chance, chances)))


def _chance(figure: Figure) -> str:
    doubts = [by_chance(figure)]
    if not figure.found.exact and not figure.found.bound_only:
        doubts = [f"by chance {by_chance(figure)}"]
    if figure.band is not None:
        doubts.append(f"by ignorance {by_ignorance(figure)}")
    return f"{harmless(figure.name)}: {shows_of(about(figure))} ({'; '.join(doubts)})"


def _mark(study: RiskStudy, *figures: Figure) -> str:
    return f" ({INDICATIVE})" if indicative(study, figures) else ""


def _dark(study: RiskStudy, main: TopologyRisk) -> Iterator[str]:
    dark = dark_figure(main)
    if dark:
        yield (
            f"{_capital(dark.name)}: {about(dark)} wall-seconds a show on average"
            f"{_mark(study, dark)}; a wall-second is the whole group dark for a second, or half of "
            "it for two."
        )
    if study.broken:
        yield f"It breaks {counted(len(study.broken), 'stated limit')}: {'; '.join(study.broken)}."


def _word(main: TopologyRisk) -> str:
    return "the topology offered" if main.variant.offered else "not the topology offered"


def _capital(text: str) -> str:
    shown = harmless(text)
    return shown[:1].upper() + shown[1:]


def dark_figure(topology: TopologyRisk) -> Figure | None:
    """The first figure in wall-seconds."""
    return next((f for f in topology.figures if f.kind == "wall-seconds"), None)


def _money(study: RiskStudy, main: TopologyRisk) -> Iterator[str]:
    code, loss = currency(study), main.loss_expected
    if not code or loss is None:
        yield "No contract is stated, so nothing is said in money."
        return
    yield f"The contract is expected to cost {about(loss, code)} a show{_mark(study, loss)}."
    rare = ((main.loss_100, "99 of 100"), (main.loss_1000, "999 of 1 000"))
    said = [f"{of} shows cost {_at_most(v, code)}" for v, of in rare if v is not None]
    if said:
        yield f"By the same count {listed(said)}{_mark(study, loss)}."
    if main.loss_worst is not None:
        yield f"The worst foreseeable show costs {exact_money(main.loss_worst, code)}."


def _at_most(value: Decimal, code: str) -> str:
    return f"at most {exact_money(value, code)}" if value else "nothing"


def _others(study: RiskStudy) -> Iterator[str]:
    """Which topology has least of the figure that compares best: the expected loss, else dark."""
    of = {called(each): compared_figure(study, each) for each in built(study)}
    known = {name: figure for name, figure in of.items() if figure is not None}
    if len(known) < 2:
        return
    by_value = sorted(known, key=lambda name: known[name].found.value)
    least, most = known[by_value[0]], known[by_value[-1]]
    what = "the expected loss" if least.kind == "money" else harmless(least.name)
    code = currency(study)
    low, high = (with_unit(about(f, code), f.kind) for f in (least, most))
    yield (
        f"Of the {grouped(len(known))} topologies that can be built, {what} is least with "
        f"{by_value[0]} ({low}) and most with {by_value[-1]} ({high})."
    )


def compared_figure(study: RiskStudy, topology: TopologyRisk) -> Figure | None:
    """What topologies are put in order by: expected loss, without a contract dark time."""
    return topology.loss_expected if currency(study) else dark_figure(topology)


def _help(study: RiskStudy, main: TopologyRisk) -> Iterator[str]:
    if main.helps:
        best = main.helps[0]
        yield f"What helps most: {harmless(best.what)}; it {saves(best, currency(study))}."


def saves(best: Help, code: str) -> str:
    """`saves 310 EUR a show and costs 2 776 EUR: not worth it for penalties alone`."""
    saved = f"{measured(best.spares, 'wall-seconds')} wall-seconds"
    if code and best.saves is not None:
        saved = amount(best.saves, code)
    price = exact_money(best.price, code)
    if not code:
        return f"saves {saved} of dark time a show"
    cost = "its price is not stated" if price == "-" else f"costs {price}"
    return f"saves {saved} a show, and {cost}{worth_words(best.worth, ': ')}"


def worth_words(worth: str, before: str = "") -> str:
    """`worth it`, `not worth it for penalties alone`, or nothing where it cannot be said."""
    said = {"yes": "worth it", "no": NOT_WORTH, NOT_WORTH: NOT_WORTH}.get(worth, "")
    return before + said if said else ""


def _warnings(study: RiskStudy) -> Iterator[Block]:
    cut = [each for each in study.topologies if each.unfinished]
    if cut:
        names = [f"{called(each)} after {shows_words(each.shows)}" for each in cut]
        yield Para(
            f"Unfinished: the simulation was interrupted ({first_few(names, 6, '; ')}). What "
            "was worked out until then stands, with wider intervals; marked * below.",
            warning=True,
        )
    main = study.main
    heads = [f for f in (*main.figures, main.loss_expected) if f is not None]
    if indicative(study, heads):
        loss = main.loss_expected or max(heads, key=lambda f: f.guessed)
        name = f'figure "{harmless(loss.name)}"'
        what = "expected loss" if loss is main.loss_expected else name
        yield Para(
            f"{_capital(INDICATIVE)}: {guessed_share(loss.guessed)} of the {what} rests on "
            "placeholder rates, which come with the program and are no records of any equipment; "
            f"more than {guessed_share(study.terms.indicative_above)} is marked. Use the figures "
            "to hold topologies against each other, or put your own records in.",
            warning=True,
        )
