"""A risk study in the words of tenders and insurers, with its test log and its inputs.

In: a frozen `RiskStudy`. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import first_few, grouped
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.risk_first import backings
from sim.report.risk_words import available, duration, fault_words, shows_words
from sim.report.words import counted, harmless, listed, seconds, share
from sim.rig.terms import Law, Repair
from sim.risk.results import RiskStudy, SpareShare, TopologyRisk

FEW = 12
COUNTED = (
    "It is the mean part of the group's area and of the show's time that is not dark, over all "
    "shows. Planned breaks count as show. A wrong, torn or standing picture counts as available."
)


def answer_blocks(study: RiskStudy) -> Iterator[Block]:
    """What is asked for again and again, for the topology offered."""
    yield Heading("Answers for tenders and insurers")
    yield Points(
        (_no_single(study), f"Availability: {available(study.main.availability)}. {COUNTED}")
    )
    yield from _recovery(study)
    yield from _response(study)
    yield from _spares(study)
    yield Heading("Test log", 3)
    yield Points(tuple(backings(study)))


def _no_single(study: RiskStudy) -> str:
    names = [fault_words(name) for name in study.main.single_points]
    if not names:
        return "No single fault takes the whole picture for good."
    return (
        f"No single fault takes the whole picture for good except: {first_few(names, FEW)}. Single "
        "faults that darken a part, or come and go, are not listed here."
    )


def _recovery(study: RiskStudy) -> Iterator[Block]:
    yield Heading("Longest recovery", 3)
    if not study.main.longest_recovery:
        yield Para("No fault of those studied darkens anything and recovers unmended.")
        return
    yield Para(
        "Of the faults that the rig recovers from by itself, at typical timings, the longest. "
        "What stays dark until somebody mends it is not among them."
    )
    rows = tuple((fault_words(f), duration(t)) for f, t in study.main.longest_recovery)
    yield Table(("fault", "something dark for"), rows)


def _response(study: RiskStudy) -> Iterator[Block]:
    yield Heading("Response times", 3)
    crew = study.terms.crew
    if crew is None:
        yield Para("No crew is stated, so nothing is mended during the show.")
        return
    yield from _notice(study.main)
    yield Para(
        f"{counted(crew.technicians, 'technician')} on site. Times run from when a fault is "
        f"noticed and a technician is free; source: {harmless(crew.source)}."
    )
    if crew.repairs:
        head = ("what", "how", "travel", "diagnosis", "repair", "source")
        yield Table(head, tuple(_repair(each) for each in crew.repairs))


NOTICED = {
    "alarm": "a fault of what is monitored",
    "wall dark": "a whole wall dark",
    "part spoilt": "part of a wall dark, torn or wrong",
    "still": "a standing picture that should move",
}
REACHED = {
    "always": "at any time",
    "in breaks": "in a break",
    "after the show": "after the show (or nobody said)",
}


def _notice(one: TopologyRisk) -> Iterator[Block]:
    """How soon somebody knows, and what can be reached when."""
    rows = tuple((NOTICED[what], law_words(law), harmless(law.source)) for what, law in one.notices)
    if rows:
        yield Table(("what is noticed", "after it shows", "source"), rows)
        yield Para("What nobody sees and nothing monitors is never noticed.")
    counts = [f"{counted(n, 'thing')} {REACHED.get(when, when)}" for when, n in one.reach]
    if counts:
        yield Para(f"Of the rig can be reached: {listed(counts)}.")


def _repair(each: Repair) -> tuple[str, ...]:
    laws = (each.travel, each.diagnose, each.fix)
    sources = list(dict.fromkeys(harmless(law.source) for law in laws))
    what = each.things or each.kit or each.family or "everything else"
    what += f" ({', '.join(each.modes)})" if each.modes else ""
    return (harmless(what), each.by, *map(law_words, laws), "; ".join(sources))


def law_words(law: Law) -> str:
    """A random time in words: `5 min`, `2 min to 9 min, mostly 4 min`."""
    a, b = duration(law.a), duration(law.b)
    if law.kind == "exponential":
        return f"{a} on average (exponential)"
    if law.kind == "lognormal":
        return f"{a}, in 95 of 100 under {law.factor:g} times that (lognormal)"
    if law.kind == "uniform":
        return f"{a} to {b}"
    return f"{a} to {b}, mostly {duration(law.c)}" if law.kind == "triangular" else a


def _spares(study: RiskStudy) -> Iterator[Block]:
    """Every type in the rig: how many, how many spares, how many would be needed."""
    yield Heading("Spares", 3)
    if not study.spare_shares:
        yield Para("Nothing in the rig has a type, so that no spares can be counted.")
        return
    shows, sure = study.spares_for
    over = shows_words(shows)
    needed = {what: (seconds(mean), grouped(number)) for what, mean, number in study.spares}
    head = ("type", "in the rig", "carried", "spare share", f"failures\nin {over}", "to carry")
    rows = tuple(
        (*_carried(each), *needed.get(each.what, ("0", "0"))) for each in study.spare_shares
    )
    yield Table(head, rows, frozenset({1, 2, 3, 4, 5}))
    yield Para(
        "Spare share: carried, as a part of what is in the rig. Failures: that take a spare, mean "
        f"number. To carry: so many last for {over} with a confidence of {share(sure)}."
    )


def _carried(each: SpareShare) -> tuple[str, ...]:
    shared = f" (any {harmless(each.of)})" if each.of else ""
    carried = grouped(each.carried) + shared if each.carried else "none"
    return harmless(each.what), grouped(each.installed), carried, share(each.share)
