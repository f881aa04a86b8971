"""The comparison of a group's topologies for people: what it comes to, side by side.

In: frozen `Comparison`s and the scenario's title, currency and rate. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from sim.limits.findings import grouped, half_up
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Para, Points, Table
from sim.report.compare_details import details, label
from sim.report.differences import common_blocks, different_blocks
from sim.report.lead import called, lead, left_out_words, limit_counts
from sim.report.rowtext import (
    mode_of,
    worst_words,
)
from sim.report.words import (
    counted,
    harmless,
    listed,
    plain,
    seconds,
    struck_words,
)
from sim.scenario.scenario import Scenario
from sim.study.study import Comparison, VariantStudy
from sim.timebase import Rate, show_time

READ = Points(
    (
        "lasting, blink, unseen: single faults by what is left once the rig has settled.",
        "latent: unseen faults after which some other single dead or cut leaves more not lit than "
        "it would alone; judged with every timing typical.",
        "worst blink: the most area times frames, dark first. Worst lasting: what costs the "
        "audience most, of equal ones the one that is dark for certain, then the one with most "
        "dark, then the one that never comes back; frames in a state are those of the "
        "one cell that is in it longest.",
        "(no bound): two protections race, so that the frames may also lie outside the span.",
        "dark, s: wall-seconds to be expected in a show (the whole group dark for a second is "
        "one), all faults at their rates by the hour, none repaired. What goes wrong at load-in or "
        "when called on, or was never tested, is not in it. What of it rests on placeholder rates "
        "serves to compare the figures with each other only.",
    )
)


def compare_blocks(compared: Sequence[Comparison], scenario: Scenario) -> Blocks:
    """The whole report."""
    found: list[Block] = [Heading(f"{scenario.title}: backup topologies compared", 1)]
    for one in compared:
        found += _group(one, scenario)
    if any(r.flashes > 3 for c in compared for s in c.studies for r in s.rows):
        found.append(Para(FLASHING, warning=True))
    return (*found, Heading("How to read the first table"), READ, Heading("Cautions"), CAUTIONS)


def _group(one: Comparison, scenario: Scenario) -> Iterator[Block]:
    yield Heading(f"Wall group {one.group}")
    yield from (Para(text) for text in lead(one) if text)
    yield overview(one, scenario)
    yield Points(tuple(_notes(one, scenario)))
    if one.buildable:
        yield Heading("Side by side", 3)
        yield details(one)
        yield from common_blocks(one)
        yield from different_blocks(one)
    yield Heading("What to measure first", 3)
    yield Points(tuple(_measure(one, scenario.rate)))


# ---- one line for each topology


def overview(one: Comparison, scenario: Scenario) -> Table:
    """A line for each topology."""
    head = (
        "", "topology", _cost_word(scenario), "lasting", "blink", "unseen", "latent",
        "dark, s", "limits",
    )  # fmt: skip
    rows = tuple(
        (str(number), label(study) + _mark(study), *_figures(one, number - 1, scenario))
        for number, study in enumerate(one.studies, 1)
    )
    return Table(head, rows, frozenset({3, 4, 5, 6, 7}))


def _mark(study: VariantStudy) -> str:
    """That it cannot work as planned."""
    return f" ({len(study.serious)} serious)" if study.serious else ""


def _cost_word(scenario: Scenario) -> str:
    return f"extra {scenario.currency}" if scenario.currency else "extra units"


def _figures(one: Comparison, number: int, scenario: Scenario) -> tuple[str, ...]:
    study = one.studies[number]
    if not study.can_be_built:
        return ("cannot be built", "-", "-", "-", "-", "-", "-")
    return (
        _extra_price(one, number) if scenario.currency else _units(one, number),
        *(grouped(study.count(verdict)) for verdict in ("lasting", "blink", "unseen")),
        grouped(study.latent_count),
        seconds(study.dark),
        limit_counts(study),
    )


def _units(one: Comparison, number: int) -> str:
    """`+7`, `+7 -2` where it also needs fewer of something; `smallest` for the base."""
    extra = one.extras[number].values()
    more, fewer = sum(n for n in extra if n > 0), sum(n for n in extra if n < 0)
    return " ".join(f"{n:+}" for n in (more, fewer) if n) or "smallest"


def _base(one: Comparison) -> VariantStudy:
    """The topology that extra units and prices are counted against: the one with none."""
    pairs = zip(one.studies, one.extras, strict=True)
    return next(study for study, extra in pairs if study.bill and not extra)


def _extra_price(one: Comparison, number: int) -> str:
    bill, base = one.studies[number].bill, _base(one).bill
    if bill is None or base is None:
        return "-"
    return money(bill.price - base.price)


def money(amount: Fraction) -> str:
    """A price difference rounded to whole units: `+1 280`, `0`."""
    whole = half_up(amount)
    return f"{whole:+,}".replace(",", " ") if whole else "0"


def _notes(one: Comparison, scenario: Scenario) -> Iterator[str]:
    for study in one.studies:
        if not study.can_be_built:
            yield f"{called(study)} cannot be built: {'; '.join(map(harmless, study.reasons))}."
    for study in one.buildable:
        for each in study.serious:
            yield f"serious, {called(study)}: {plain(each.subject)}: {harmless(each.text)}."
    limits = next((study.verdicts for study in one.buildable), ())
    for number, verdict in enumerate(limits, 1):
        yield f"limit {number}: {harmless(verdict.limit.label)}."
    yield from _not_judged(one)
    if one.buildable:
        yield from _left_out(one, scenario)


def _not_judged(one: Comparison) -> Iterator[str]:
    """What limits on a single dead or cut leave out, and the gravest of it, by topology."""
    verdicts = next((study.verdicts for study in one.buildable), ())
    narrow = [n for n, verdict in enumerate(verdicts, 1) if verdict.narrow]
    worst: dict[str, list[str]] = {}
    for study in one.buildable:
        if row := study.left_out:
            fault = f"{struck_words(row.role, row.mode, True)} {mode_of(row)}"
            worst.setdefault(f"{fault} ({worst_words(row)}, lasting)", []).append(called(study))
    if narrow and worst:
        all_alike = len(worst) == 1
        said = [w + ("" if all_alike else f" with {listed(of)}") for w, of in worst.items()]
        yield f"{left_out_words(narrow, len(verdicts))}; the gravest of these: {'; '.join(said)}."


def _left_out(one: Comparison, scenario: Scenario) -> Iterator[str]:
    base = _base(one)
    unpriced = sorted({name for s in one.buildable if s.bill for name in s.bill.unpriced})
    if not scenario.currency:
        count = sum(base.bill.kits.values()) if base.bill else 0
        yield (
            f"Extra units are counted against the smallest, {called(base)}, which needs "
            f"{counted(count, 'unit')}, cables and cards included; no price is stated."
        )
    elif unpriced:
        yield (
            f"Prices are against {called(base)} and leave out what has none: "
            f"{', '.join(map(harmless, unpriced))}."
        )
    else:
        yield f"Prices are against {called(base)}."


# ---- what to measure


def _measure(one: Comparison, rate: Rate) -> Iterator[str]:
    found = [(study, study.deciders[0]) for study in one.buildable if study.deciders]
    for study, decider in found:
        timing = decider.timing
        span = f"{show_time(timing.least, rate)} to {show_time(timing.most, rate)}"
        limits = listed([f"`{harmless(label)}`" for label in decider.limits or decider.bears])
        how = "alone decides" if decider.limits else "bears most on"
        yield (
            f"{called(study)}: measure {timing_name(decider.key)} first (now {span}, "
            f"{timing.grade}): it {how} {limits}; {decider.faults} of "
            f"{counted(decider.doubtful, 'kind')} of doubtful fault turn with it, all other "
            "timings typical."
        )
    if not found:
        yield "No single unknown timing decides whether a stated limit is met."
    yield (
        f"{counted(one.assumptions, 'assumption')} fill in what the scenario does not say, each "
        "taken the unfavourable way: `staylit check` lists them."
    )


def timing_name(key: str) -> str:
    """The key of a timing in words."""
    name = harmless(key)
    return " ".join(part for part in name.replace("_", " ").split("/") if part)
