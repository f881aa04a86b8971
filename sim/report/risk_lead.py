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
    help_words,
    indicative,
    measured,
    shows_of,
    shows_words,
    with_unit,
)
from sim.report.words import harmless, listed
from sim.risk.results import Figure, Help, RiskStudy, TopologyRisk
from sim.study.promises import NOT, OPEN, PERHAPS

NAMED = (
    "Named are the likeliest chance, the whole wall dark for longest, and what the contract makes "
    "cost most; the others stand under How likely."
)
NAMED_UNPRICED = (
    "Named are the likeliest chance and the whole wall dark for longest, then what is likely; the "
    "others stand under How likely."
)


def lead_blocks(study: RiskStudy) -> Iterator[Block]:
    """What it comes to, then warnings where the figures are less than they seem."""
    main = study.main
    yield from map(Para, _outs(study))
    if not main.reasons:
        yield from _headlines(study, main)
        for said in ((*_limits(study), *_money(study, main)), (*_others(study), *_help(study))):
            if said:
                yield Para(" ".join(said))
    yield from _warnings(study)


def _outs(study: RiskStudy) -> Iterator[str]:
    """Why what is offered, or anything, cannot be built."""
    out = [each for each in study.topologies if each.variant.offered and each.reasons]
    if out or study.main.reasons:
        one = (*out, study.main)[0]
        yield f"{called(one)} cannot be built: {harmless('; '.join(one.reasons))}."


def answer(study: RiskStudy) -> tuple[str, ...]:
    """The lead in three sentences at most: limits (else money), the best topology, what helps."""
    if study.main.reasons:
        return tuple(_outs(study))
    kinds = ((*_limits(study), *_money(study, study.main)), _others(study), _help(study))
    return tuple(said for kind in kinds for said in [*kind][:1])


def expected(study: RiskStudy) -> str:
    """What the headline figures are of."""
    main = study.main
    marked = [indicative(study, [figure]) for figure in headline_figures(study)]
    which = "the topology offered" if main.variant.offered else "not the topology offered"
    return (
        f"With {called(main)}, {which}, this is to be expected of a show of "
        f"{duration(study.length)}" + f" ({INDICATIVE})" * bool(marked and all(marked)) + "."
    )


def headline_figures(study: RiskStudy) -> tuple[Figure, ...]:
    """The chances that matter most, dark time, expected loss."""
    main = study.main
    chances = [main.figure(key) for key in main.leading]
    more = (dark_figure(main), main.loss_expected if currency(study) else None)
    return tuple(f for f in (*chances, *more) if f is not None)


def _headlines(study: RiskStudy, main: TopologyRisk) -> Iterator[Block]:
    """The headline figures, each with both its doubts."""
    found = headline_figures(study)
    marked = [indicative(study, [figure]) for figure in found]
    everywhere = bool(found) and all(marked)
    yield Para(expected(study))
    yield Points(
        tuple(
            _headline(figure, currency(study)) + f", {INDICATIVE}" * (mark and not everywhere)
            for figure, mark in zip(found, marked, strict=True)
        )
    )
    if len([f for f in main.figures if f.kind == "chance"]) > len(main.leading):
        yield Para(NAMED if currency(study) else NAMED_UNPRICED)


def _headline(figure: Figure, code: str) -> str:
    doubts = [by_chance(figure, code)]
    if not figure.found.exact and not figure.found.bound_only:
        doubts = [f"by chance {by_chance(figure, code)}"]
    if figure.band is not None:
        doubts.append(f"by ignorance {by_ignorance(figure, code)}")
    doubts.append(f"{guessed_share(figure.guessed)} on placeholders")
    value = about(figure, code)
    if figure.kind == "chance":
        value = shows_of(value)
    else:
        value = f"{with_unit(value, figure.kind)} a show"
    return f"{harmless(figure.name)}: {value} ({'; '.join(doubts)})"


def _mark(study: RiskStudy, *figures: Figure) -> str:
    return f" ({INDICATIVE})" if indicative(study, figures) else ""


def _limits(study: RiskStudy) -> Iterator[str]:
    """Which stated limits the topology offered does not keep, by its single faults."""
    said = {NOT: "does not meet", PERHAPS: "perhaps does not meet"}
    for mark, verb in said.items():
        labels = [f'"{harmless(v.limit.label)}"' for v in study.verdicts if v.verdict == mark]
        if labels:
            yield f"The topology offered {verb} {listed(labels)}: `staylit faults` tells by what."
    if any(v.verdict == OPEN for v in study.verdicts):
        yield "Limits on double faults are not judged here: see `staylit faults --pairs`."


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
    rare = ((main.loss_100, "99 of 100"), (main.loss_1000, "999 of 1 000"))
    said = [f"{of} cost {_at_most(v, code)}" for v, of in rare if v is not None]
    if said:
        yield f"Of all shows, {listed(said)}{_mark(study, loss)}."
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
        f"{by_value[0]} ({low}) and most with {by_value[-1]} ({high}). "
        f"{_told_apart(study, by_value[0])} {_told_apart(study, by_value[-1])}"
    )


def _told_apart(study: RiskStudy, name: str) -> str:
    """From which others the same shows do not tell a topology apart."""
    one = next(each for each in built(study) if called(each) == name)
    others = len(built(study)) - 1
    if not one.alike:
        return f"The same shows tell {name} apart from all others."
    if len(one.alike) == others > 1:
        return f"The same shows tell {name} apart from none of the others."
    return (
        f"The same shows do not tell {name} apart from {listed(map(harmless, one.alike), 'or')}: "
        "the difference may be chance."
    )


def compared_figure(study: RiskStudy, topology: TopologyRisk) -> Figure | None:
    """What topologies are put in order by: expected loss, without a contract dark time."""
    return topology.loss_expected if currency(study) else dark_figure(topology)


def _help(study: RiskStudy) -> Iterator[str]:
    if study.main.helps:
        best = study.main.helps[0]
        said = saves(best, currency(study), study.price_over)
        yield f"What helps most: {help_words(best)}; it {said}."


def saves(best: Help, code: str, over: int) -> str:
    """`saves 310 EUR a show, and costs 2 776 EUR: not worth it for penalties alone`."""
    most = "at most " * best.bound
    if not code or best.saves is None:
        return f"saves {most}{measured(best.spares, 'wall-seconds')} wall-seconds dark a show"
    price = exact_money(best.price, code)
    cost = "its price is not stated" if price == "-" else f"costs {price}"
    cost += f" for {shows_words(over)}" * (over > 1 and price != "-")
    return (
        f"saves {most}{amount(best.saves, code)} a show, and {cost}{worth_words(best.worth, ': ')}"
    )


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
