"""What may be wrong, for people: groups of faults with their chances, what to look at next.

In: a frozen `Diagnosis`. Out: blocks, a JSON-able document, or CSV; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from sim.practice.diagnosis import DOUBLE, NEAREST, Alike, Diagnosis
from sim.practice.nexts import Next
from sim.practice.pairs import MOST_PAIRED
from sim.practice.symptoms import ALARMS_COME
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Para, Points, Table
from sim.report.tables import as_csv
from sim.report.values import as_values, head
from sim.report.words import counted, harmless, listed, share
from sim.scenario.scenario import Scenario, Variant

DIAGNOSE = "staylit-diagnose 1"
MOST_GROUPS, MOST_NAMES, MOST_NEXTS = 12, 6, 6
"""Groups, names in a group, and looks that a text shows; JSON has all."""
READ = Points(
    (
        "chance: given that one of the faults listed is what is wrong; from failure rates alone, "
        "or times the chance that the other was there before.",
        "Faults of one group look alike to whoever watches the walls, asks for every report and "
        "waits for alarms: only hands on the rig tell them apart.",
        "bits: what a look is expected to tell (1 bit halves what is open). minutes are from "
        "memory: time your own crew.",
        "A link that is up, or a signal that arrives, says nothing about the picture.",
        ALARMS_COME,
        "All timings are taken as typical; what recovers later or earlier may be missed.",
    )
)


def blocks(found: Diagnosis, variant: Variant, scenario: Scenario) -> Blocks:
    """The whole report."""
    title = f"{scenario.title}, wall group {variant.group}, {variant.label}: what may be wrong"
    return (
        Heading(harmless(title), 1),
        Para(harmless(f"Seen and reported: {'; '.join(found.said)}.")),
        *_lead(found),
        *_groups(found),
        *_nexts(found),
        Heading("How to read it"),
        READ,
        Heading("Cautions"),
        Points((*found.cautions, *CAUTIONS.texts)),
        *([Para(FLASHING, warning=True)] if found.flashing else []),
    )


def _lead(found: Diagnosis) -> Iterator[Block]:
    if found.well:
        yield Para("With nothing wrong all of this would be so too: it proves no fault.")
    if found.kind == DOUBLE:
        yield Para(
            "No single fault explains all of it; two together do. Pairs were tried among the "
            f"{MOST_PAIRED} single faults that explain most of it, the {MOST_PAIRED} that disturb "
            "it most, and the likeliest that may lie unseen before each, once settled: others may "
            "explain it as well.",
            warning=True,
        )
    if found.kind == NEAREST:
        yield Para(_contrary(found), warning=True)
    for first, second in found.contrary:
        yield Para(harmless(f"No single fault makes both so: {first}; {second}."))
    if found.groups:
        yield Para(_likeliest(found))


def _contrary(found: Diagnosis) -> str:
    which = (
        f": no fault makes {listed(map(harmless, found.impossible))} so" if found.impossible else ""
    )
    open_ = listed(map(harmless, found.unexplained))
    rest = f" The nearest explanation leaves open: {open_}." if open_ else ""
    return (
        f"What is seen contradicts itself, or is more than two faults{which}. No single fault and "
        f"no pair that was tried explains all of it.{rest} Look again at what is left open first."
    )


def _likeliest(found: Diagnosis) -> str:
    first = found.groups[0]
    number = sum(len(group.suspects) for group in found.groups)
    what = {DOUBLE: "pair", NEAREST: "nearest fault"}.get(found.kind, "single fault")
    guess = f" {_part(found.guessed)} of this rests on placeholder rates." if found.guessed else ""
    return (
        f"{counted(number, what)} in {counted(len(found.groups), 'group')}; "
        f"{counted(found.struck, 'single fault')} looked at. Likeliest group "
        f"({_part(first.chance)}): {_named(first, 3)}.{guess}"
    )


def _part(chance: float) -> str:
    return share(Fraction(chance))


def _named(group: Alike, most: int) -> str:
    names = [harmless(suspect.name) for suspect in group.suspects[:most]]
    more = len(group.suspects) - len(names)
    return "; ".join(names) + (f"; and {more} more" if more else "")


def _groups(found: Diagnosis) -> Iterator[Block]:
    if not found.groups:
        return
    yield Heading("What may be wrong")
    rows = []
    for number, group in enumerate(found.groups[:MOST_GROUPS], 1):
        names = [f"{harmless(s.name)} ({_part(s.chance)})" for s in group.suspects[:MOST_NAMES]]
        more = len(group.suspects) - len(names)
        names += [f"and {more} more"] if more else []
        rows.append((str(number), _part(group.chance), "\n".join(names), _seen(group)))
    yield Table(
        ("group", "chance", "faults that look alike", "what is seen then"),
        tuple(rows),
        frozenset({0, 1}),
        ruled=True,
    )
    left = len(found.groups) - MOST_GROUPS
    if left > 0:
        yield Para(f"{counted(left, 'less likely group')} left out here (JSON and CSV have all).")


def _seen(group: Alike) -> str:
    states = [f"{share(part)} of {harmless(place)} {state}" for place, state, part in group.states]
    if group.blinked:
        states.append(f"{counted(group.blinked, 'cabinet')} blinked")
    alarms = [harmless(text) for text in group.alarms[:3]]
    more = len(group.alarms) - len(alarms)
    lines = [*(states or ["all lit"]), *alarms, *([f"and {more} more alarms"] if more > 0 else [])]
    return "\n".join(lines)


def _nexts(found: Diagnosis) -> Iterator[Block]:
    if not found.groups:
        return
    yield Heading("What to look at next")
    if found.common:
        yield Para(f"Struck in all of them: {listed(map(harmless, found.common))}.")
    if not found.nexts:
        yield Para("No look or test here tells them apart any further.")
        return
    yield Table(
        ("look or test", "where", "bits", "minutes", "bits a\nminute", "reached"),
        tuple(map(_next, found.nexts[:MOST_NEXTS])),
        frozenset({2, 3, 4}),
    )
    source = found.nexts[0].source
    yield Para(f"Open: {found.bits:.2f} bits. Minutes: {source}.")


def _next(each: Next) -> tuple[str, ...]:
    numbers = (f"{each.bits:.2f}", f"{each.minutes:g}", f"{each.worth:.2f}")
    return (each.kind, harmless(each.name) or "-", *numbers, each.reach)


def document(found: Diagnosis, variant: Variant, scenario: Scenario) -> dict[str, Any]:
    """All of it as plain values."""
    values = as_values(found)
    for plain, each in zip(values["nexts"], found.nexts, strict=True):
        plain["bits_a_minute"] = each.worth
    return {
        **head(DIAGNOSE, scenario),
        "cautions": [*found.cautions, *CAUTIONS.texts],
        "variant": as_values(variant),
        "diagnosis": values,
    }


HEAD = (
    "kind",
    "group",
    "group_chance",
    "fault",
    "chance",
    "guessed",
    "cause",
    "seen",
    "blinked",
    "alarms",
)


def csv(found: Diagnosis) -> str:
    """One line for each fault."""
    return as_csv(
        HEAD,
        (
            {
                "kind": found.kind,
                "group": number,
                "group_chance": group.chance,
                "fault": suspect.name,
                "chance": suspect.chance,
                "guessed": suspect.guessed,
                "cause": suspect.doing,
                "seen": [f"{place} {state}" for place, state, _ in group.states],
                "blinked": group.blinked,
                "alarms": group.alarms,
            }
            for number, group in enumerate(found.groups, 1)
            for suspect in group.suspects
        ),
    )
