"""What a risk study rests on: its inputs with source and grade, its method, its marks, cautions.

In: a frozen `RiskStudy`. Out: blocks. No clock time: the same study gives the same text.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, Block, Heading, Para, Points, Table
from sim.report.rates_report import figure
from sim.report.risk_topologies import strata_blocks
from sim.report.risk_words import duration, fault_words
from sim.report.words import counted, harmless
from sim.risk.results import RateUsed, RiskStudy, Sampling
from sim.timebase import Timing

FLASHES = (
    "Repeated blinking of a whole wall can harm photosensitive viewers: more than three flashes in "
    "a second over a quarter of the screen (ITU-R BT.1702, WCAG 2.3.1). A bright wall lies outside "
    "the brightness that those limits assume. `staylit faults` names the faults that flash so."
)
STRATA = (
    "Shows are put apart by how many faults strike in them. The empty ones are exact; where it can "
    "be done, one and two faults are summed up exactly; the rest is simulated, most shows where "
    "the answer varies most."
)
PLAIN = (
    "Figures and differences were sampled plainly, as asked: only shows without a fault are left "
    "out. Without `--plain` the same precision takes far fewer shows. What figures are made of "
    "(risks, rare losses, whose items, bands, what is told apart) comes from shows put apart by "
    "their number of faults, as without it."
)
SAME = "The same faults strike every topology, so that their differences are fair."


def register_blocks(study: RiskStudy) -> Iterator[Block]:
    """Every input, whose it is and how good."""
    yield Heading("Assumptions register")
    yield Para(
        "Every input with its source and grade. Measured: seen on this equipment; claim: its maker "
        "says so; records: an owner's own failures; guess and placeholder: nobody knows. Error "
        "factor: the 95th percentile over the median, the wider the less is known."
    )
    if study.rates:
        head = ("input", "things", "value", "error\nfactor", "source", "grade")
        yield Table(head, tuple(map(_input, study.rates)), frozenset({1, 3}))
    yield from _timings(study)
    yield from _assumed(study)


def _timings(study: RiskStudy) -> Iterator[Block]:
    """The timings that the scenario states."""
    if not study.main.timings:
        return
    yield Para("Timings that the scenario states; those that it does not are assumptions, below.")
    rows = tuple(
        (harmless(key), _range(timing), harmless(timing.grade), harmless(timing.source))
        for key, timing in study.main.timings
    )
    yield Table(("timing", "value", "grade", "source"), rows)


def _range(timing: Timing) -> str:
    """`0.1 s to 2 s, typically 0.3 s`."""
    if timing.least == timing.most:
        return duration(timing.least)
    ends = f"{duration(timing.least)} to {duration(timing.most)}"
    return f"{ends}, typically {duration(timing.typical)}"


def _input(each: RateUsed) -> tuple[str, ...]:
    factor = f"{each.error_factor:.3g}" if each.error_factor else "-"
    said = [harmless(text) for text in (each.source, each.grade)]
    return (fault_words(each.what), grouped(each.count), harmless(each.value), factor, *said)


def _assumed(study: RiskStudy) -> Iterator[Block]:
    if not study.assumptions:
        yield Para("Nothing was assumed beyond what the scenario says.")
        return
    yield Para(
        f"{counted(study.assumptions, 'assumption')} fill in what the scenario does not say, each "
        "taken the unfavourable way unless its source says placeholder (a middle figure) or "
        "favourable. Write it at its place and the assumption goes away."
    )
    if study.assumed:
        rows = tuple((a.path, a.what, a.value, a.grade, a.source) for a in study.assumed)
        yield Table(("place", "what", "taken", "grade", "source"), rows)
    else:
        yield Para("`staylit check` lists all of them.")


def method_blocks(study: RiskStudy) -> Iterator[Block]:
    """How the figures were got, and how they can be checked."""
    yield Heading("Method and verification")
    yield Para(f"{PLAIN if study.plain else STRATA} {SAME}")
    yield Points(tuple(_limits(study)))
    yield from strata_blocks(study)
    yield from _samplings(study)
    yield Para(
        "`staylit risk SCENARIO --verify` holds these figures against theory that shares no code "
        "with the simulation: minimal cut sets of the wiring, unavailability, a bound on what was "
        "left out."
    )


def _samplings(study: RiskStudy) -> Iterator[Block]:
    """By strata against plainly; the only figures that depend on the machine."""
    if not study.samplings:
        return
    yield Heading("By strata against plain sampling", 3)
    yield Para(
        "Gain: how many times the variance of plain sampling is at equal processor time. Times "
        "are this machine's, so they differ from run to run. Plainly, by theory: too rare to be "
        "seen often enough in so many shows; its variance is that of a share of the size that the "
        "strata give, in as many shows with a fault, which took the time told."
    )
    head = ("topology", "of what", "", "shows", "seconds", "variance", "gain")
    rows = tuple(line for each in study.samplings for line in _both_ways(each))
    yield Table(head, rows, frozenset({3, 4, 5, 6}))


def _both_ways(each: Sampling) -> Iterator[tuple[str, ...]]:
    names = (harmless(each.topology), harmless(each.what))
    plainly = "plainly, by theory" if each.by_theory else "plainly"
    for way, (place, gain) in {"by strata": (0, figure(each.gain)), plainly: (1, "")}.items():
        numbers = (f"{each.seconds[place]:.3g}", f"{each.variance[place]:.3g}")
        yield (*(names if not place else ("", "")), way, grouped(each.shows[place]), *numbers, gain)


def _limits(study: RiskStudy) -> Iterator[str]:
    if study.precision:
        yield f"Asked: a standard error of at most {100 * study.precision:g} % of the value."
    if study.budget:
        yield f"Asked: at most {grouped(study.budget)} shows for each topology."
    yield (
        "An interval by chance covers the true value of the model in so many of 100 studies as its "
        "level says. Where nothing was seen, the upper end alone is told, never 0."
    )


def closing_blocks(study: RiskStudy) -> Iterator[Block]:
    """Cautions, and what makes the study one that anybody can repeat."""
    yield Heading("Cautions")
    yield Points((*CAUTIONS.texts[:-1], FLASHES, CAUTIONS.texts[-1]))
    yield Heading("Marks")
    marks = (
        ("seed", str(study.seed)), ("version", harmless(study.version) or "not stated"),
        ("scenario hash", harmless(study.digest) or "not stated"),
    )  # fmt: skip
    yield Table(("what", "value"), marks)
    yield Para("The same scenario, seed and version give the same figures on any machine.")
