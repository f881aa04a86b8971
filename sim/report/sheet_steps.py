"""One step of a test sheet for people: what to pull, what to expect, how to break it off.

In: a frozen `Step`. Out: blocks and short texts; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from sim.limits.findings import grouped
from sim.practice.filming import Span
from sim.practice.protections import KINDS, Protection
from sim.practice.pulls import OUTPUT, RESTART, UNPLUG
from sim.practice.testsheet import Sheet, Step
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.words import harmless, listed, plain, share
from sim.timebase import FLICKS, Rate, show_time

MOST_NAMES = 4
HEADS = (
    "worked", "frames\nwhile pulled", "frames\nonce put back", "camera\nrate", "by whom", "when",
)  # fmt: skip
"""Of the blanks, in the order of `filled.BLANKS`."""
BLANKS = tuple("." * width for width in (6, 12, 13, 7, 16, 15))
"""Room to write in: as wide as 80 columns leave it."""


def _subject(each: Protection) -> str:
    """What protects, and in brackets what it then relies on."""
    if each.kind == "return":
        return f"receiving card {harmless(each.thing.removesuffix('/receiver'))}"
    name = harmless(plain(each.name.removesuffix("#sync").removesuffix("#reference")))
    if each.kind in ("feed", "source", "reference", "input"):
        return f"{name} ({harmless(plain(each.by))})"
    return name


def plain_name(step: Step) -> str:
    """What is done to what, as a sentence has it."""
    return f"{step.pull.do} {plain(step.pull.on)}"


def span_words(span: Span | None) -> str:
    """`2..3 (2.5)`, one number, or that it stays."""
    if span is None:
        return "stays"
    if span.least == span.most:
        return grouped(span.least)
    return f"{grouped(span.least)}..{grouped(span.most)} ({mean(span.typical)})"


def mean(value: Fraction) -> str:
    """A mean number of frames, to a tenth."""
    whole, tenth = divmod(round(value * 10), 10)
    return f"{grouped(whole)}.{tenth}"


def step_blocks(
    number: int, step: Step, sheet: Sheet, rate: Rate, reach: Mapping[str, str]
) -> Iterator[Block]:
    yield Heading(harmless(f"Step {number}: {plain_name(step)}"))
    told = (
        _where(step, reach),
        *_tries(step, sheet),
        *_expected(step, rate),
        f"Safe abort: {_abort(step)}",
        *step.cautions,
    )
    yield Points(tuple(harmless(text) for text in told if text))
    if step.flashes:
        yield Para(
            "Flashing: this step can make a quarter of the group or more flash more than three "
            "times in a second (ITU-R BT.1702, WCAG 2.3.1). Do it with nobody else before the "
            "wall; else leave this step out.",
            warning=True,
        )
    elif step.blinks:
        yield Para(
            "Flashing: a quarter of the group or more blinks. Do not repeat it within seconds, "
            "and warn whoever may be photosensitive.",
            warning=True,
        )
    yield Table(HEADS, (BLANKS,))


def _where(step: Step, reach: Mapping[str, str]) -> str:
    if not step.place:
        return "Where: nobody named the place."
    when = reach.get(step.place, "always")
    return f"Where: {step.place}." + ("" if when == "always" else f" Reached {when} only.")


def _tries(step: Step, sheet: Sheet) -> Iterator[str]:
    for kind, what in KINDS.items():
        of = [each for each in step.acts if each.kind == kind]
        if of:
            perhaps = " (perhaps)" if {*of} & {*sheet.picked.perhaps} else ""
            yield f"Tries{perhaps}: {what}: {few_of(of)}."


def few_of(protections: Sequence[Protection]) -> str:
    """The first of some protections, and how many more there are."""
    names = [_subject(each) for each in protections[:MOST_NAMES]]
    more = len(protections) - len(names)
    return listed([*names, *([f"{more} more"] if more else [])])


def _expected(step: Step, rate: Rate) -> Iterator[str]:
    filmed = step.filmed
    target, still = filmed.target, f"{filmed.state} on up to {share(filmed.part)}"
    if not filmed.state:
        yield "Expect: nothing is to be seen on any wall, neither now nor later."
    elif filmed.lasting:
        yield f"Expect: {target} {still}, until it is put back: no backup covers that part."
    else:
        yield f"Film {target}. Expect: {still}, for {_frames(filmed.pulled)} frames."
    yield from _places(step)
    if step.races:
        before, behind = step.races[0]
        yield (
            f"No bound: {plain(before)} and {plain(behind)} race; which is first depends on where "
            "in their ranges the timings lie."
        )
    yield from _afterwards(step, rate)


def _places(step: Step) -> Iterator[str]:
    """Where it is to be seen: the cabinets of a part, and other walls and regions."""
    filmed = step.filmed
    if filmed.box is not None and filmed.part < 1:
        top, bottom, left, right = filmed.box
        rows = f"row {top}" if top == bottom else f"rows {top} to {bottom}"
        columns = f"column {left}" if left == right else f"columns {left} to {right}"
        yield f"There: {rows}, {columns}."
    stays = " until it is put back"
    others = [
        f"{name} {state}{stays * lasting}"
        for name, state, lasting in filmed.seen
        if name != filmed.target
    ]
    if others:
        yield f"Also to be seen: {listed(others)}."


def _frames(span: Span | None) -> str:
    return span_words(span) if span is not None else "no stated number of"


def _afterwards(step: Step, rate: Rate) -> Iterator[str]:
    whole = show_time(-(-step.whole // FLICKS) * FLICKS, rate)
    if step.hold is None:
        yield f"It comes back by itself; all is as before after {whole} at most."
        return
    late = f", and before {show_time(step.latest, rate)} have passed" if step.latest else ""
    blink = ""
    if step.filmed.state and not step.filmed.lasting:
        blink = f" Expect then: {_again(step)}."
    ends = f"All is as before after {whole} at most" if step.whole else "All is as before at once"
    yield f"Put it back after {show_time(step.hold, rate)}{late}.{blink} {ends}."
    if step.by_hand:
        names = listed(plain(name) for name in step.by_hand)
        yield f"Then choose the first input again by hand, on {names}: nothing goes back by itself."


def _again(step: Step) -> str:
    """What is seen of the way back."""
    back = step.filmed.back
    if back is None or not back.most:
        return "nothing is to be seen"
    return f"{step.filmed.state} again, for {_frames(back)} frames"


def _abort(step: Step) -> str:
    rest = "if the picture is not back when it should be, fade to black at the desk and stop."
    if step.pull.choices:
        return f"choose the first input again; {rest}"
    if step.pull.do == RESTART:
        return f"a restart cannot be taken back; {rest}"
    if step.pull.do == UNPLUG:
        return f"plug it in again at once; {rest}"
    again = "switch it on again at once, and once only"
    again += " (its output)" if step.pull.do == OUTPUT else ""
    return f"{again}; {rest}"
