"""The comparison of a group's topologies for people: what it comes to, side by side.

In: frozen `Comparison`s and the scenario's title, currency and rate. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from sim.limits.findings import half_up
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Para, Points, Table
from sim.report.differences import common_blocks, different_blocks
from sim.report.lead import called, in_all, lead, left_out_words, limit_counts
from sim.report.rowtext import (
    NO_BOUND,
    by_role,
    frame_words,
    instead,
    mode_of,
    title,
    worst_words,
)
from sim.report.words import (
    counted,
    first_few,
    harmless,
    listed,
    plain,
    seconds,
    share,
    supplier_words,
    unit_words,
)
from sim.scenario.scenario import Scenario
from sim.study.promises import NOT, OPEN, PERHAPS, Verdict
from sim.study.rows import FaultRow
from sim.study.strikes import Strike
from sim.study.study import Comparison, VariantStudy
from sim.timebase import Rate, show_time

FEW = 6
"""So many names are written out in a cell; JSON and CSV have all."""
READ = Points(
    (
        "lasting, blink, unseen: single faults by what is left once the rig has settled.",
        "latent: unseen faults after which some other single dead or cut leaves more not lit than "
        "it would alone.",
        "worst blink: the most area times frames, dark first. Worst lasting: what costs the "
        "audience most, of equal ones the one with most dark; frames in a state are those of the "
        "one cell that is in it longest.",
        "(no bound): two protections race, so that the frames may also lie outside the span.",
        "dark, s: wall-seconds to be expected in a show (the whole group dark for a second is "
        "one), all faults at their failure rates, none repaired. It rests on placeholder rates: "
        "compare the figures with each other only.",
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
    yield _overview(one, scenario)
    yield Points(tuple(_notes(one, scenario)))
    if one.buildable:
        yield Heading("Side by side", 3)
        yield _details(one, scenario)
        yield from common_blocks(one)
        yield from different_blocks(one)
    yield Heading("What to measure first", 3)
    yield Points(tuple(_measure(one, scenario.rate)))


# ---- one line for each topology


def _overview(one: Comparison, scenario: Scenario) -> Table:
    head = (
        "", "topology", _cost_word(scenario), "lasting", "blink", "unseen", "latent",
        "dark, s", "limits",
    )  # fmt: skip
    rows = tuple(
        (str(number), _label(study), *_figures(one, number - 1, scenario))
        for number, study in enumerate(one.studies, 1)
    )
    return Table(head, rows, frozenset({3, 4, 5, 6, 7}))


def _cost_word(scenario: Scenario) -> str:
    return f"extra {scenario.currency}" if scenario.currency else "extra units"


def _label(study: VariantStudy) -> str:
    return harmless(study.variant.label) + (" (offered)" if study.variant.offered else "")


def _figures(one: Comparison, number: int, scenario: Scenario) -> tuple[str, ...]:
    study = one.studies[number]
    if not study.can_be_built:
        return ("cannot be built", "-", "-", "-", "-", "-", "-")
    return (
        _extra_price(one, number) if scenario.currency else _units(one, number),
        *(str(study.count(verdict)) for verdict in ("lasting", "blink", "unseen")),
        str(study.latent_count),
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
            fault = f"{unit_words(row.role)} {mode_of(row)} ({worst_words(row)}, lasting)"
            worst.setdefault(fault, []).append(called(study))
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


# ---- properties as rows, topologies as columns


def _details(one: Comparison, scenario: Scenario) -> Table:
    numbers = [i for i, study in enumerate(one.studies) if study.can_be_built]
    built = one.studies
    shared = {row.name for valid in (False, True) for row in in_all(one.buildable, valid)}
    makers: tuple[tuple[str, Callable[[int], str]], ...] = (
        ("extra units", lambda i: _extra_units(one, i)),
        ("worst blink", lambda i: _blink(one.studies[i].worst_blink)),
        ("worst lasting area, by whose item fails", lambda i: _lasting(one.studies[i])),
        ("takes the whole picture: nothing arrives", lambda i: _spoilers(built[i], False, shared)),
        (
            "takes the whole picture: a valid signal arrives",
            lambda i: _spoilers(built[i], True, shared),
        ),
        ("latent", lambda i: _latent(one.studies[i])),
        ("limits", lambda i: _limits(one.studies[i])),
    )
    head = ("", *(f"{i + 1} {_label(one.studies[i])}" for i in numbers))
    rows = tuple((name, *(make(i) for i in numbers)) for name, make in makers)
    return Table(head, rows, least=22, ruled=True)


def _extra_units(one: Comparison, number: int) -> str:
    extra = one.extras[number]
    if not extra:
        return "none"
    return "\n".join(f"{count:+} {harmless(kit)}" for kit, count in extra.items())


def _blink(row: FaultRow | None) -> str:
    if row is None:
        return "none"
    notes = [note for note in (row.grade, NO_BOUND if row.races else "") if note]
    said = f" ({', '.join(notes)})" if notes else ""
    return f"{frame_words(row)}{said}\n{share(row.ever[1])} of the group\n{title(row)}"


def _lasting(study: VariantStudy) -> str:
    worst = study.worst_lasting
    parts = [f"{supplier_words(s)}: {worst_words(r)}, {title(r)}" for s, r in worst.items()]
    return "\n".join(parts) or "none"


def _spoilers(study: VariantStudy, valid: bool, shared: set[str]) -> str:
    """What is in all of them is said once, below the table."""
    own = [row for row in study.spoilers(valid) if row.name not in shared]
    some = "only what is listed below" if len(own) < len(study.spoilers(valid)) else "nothing"
    return first_few(by_role(own), FEW, "\n") if own else some


def _latent(study: VariantStudy) -> str:
    worst = study.worst_latent
    if worst is None:
        return "none"
    second = _named(worst.second) if worst.second != worst.name else "a second one"
    return (
        f"{study.latent_count}; for one, {_named(worst.name)} goes unseen, and {second} then "
        f"costs {instead(worst.together_states, worst.alone_states)}"
    )


def _named(name: str) -> str:
    """A row's name (role, mode) in plain words."""
    before, _, mode = name.rpartition(" ")
    if " moved to " in name:
        before, _, mode = name.partition(" moved to ")
        return f"{plain(before)} moved to {plain(mode)}"
    return f"{plain(before)} {mode}"


def _limits(study: VariantStudy) -> str:
    return "\n".join(_verdict(i, v) for i, v in enumerate(study.verdicts, 1)) or "none stated"


def _verdict(number: int, verdict: Verdict) -> str:
    words = f"limit {number} {verdict.verdict}"
    if verdict.verdict == NOT:
        more = counted(len(verdict.suspects), "more fault")
        doubt = f"; {more} may break it" if verdict.suspects else ""
        verb = "breaks" if len(verdict.breakers) == 1 else "break"
        return f"{words}: {_faults(verdict.breakers)} {verb} it{doubt}"
    if verdict.verdict == PERHAPS:
        return f"{words}: {_faults(verdict.suspects)} may break it"
    return f"{words}: double faults, see `faults --pairs`" if verdict.verdict == OPEN else words


def _faults(strikes: Sequence[Strike]) -> str:
    """`107 faults (of unit-a, relay-main and 5 more kinds of thing)`."""
    kinds = list(dict.fromkeys(plain(strike.role) for strike in strikes))
    more = len(kinds) - 2
    kind = "kind" if more == 1 else "kinds"
    names = listed(kinds) if more < 1 else f"{', '.join(kinds[:2])} and {more} more {kind} of thing"
    return f"{counted(len(strikes), 'fault')} (of {names})"


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
