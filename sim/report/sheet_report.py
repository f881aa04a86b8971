"""A test sheet for people: to print, to fill in as CSV, or as data.

In: a frozen `Sheet`, the topologies, where places can be reached. Out: blocks, CSV, a JSON-able
document; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from sim.practice.cautions import FLASHING as REGION
from sim.practice.filled import COLUMNS
from sim.practice.filming import Span
from sim.practice.protections import KINDS, Protection
from sim.practice.pulls import OUTPUT, RESTART, UNPLUG
from sim.practice.testsheet import Sheet, Step
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.tables import as_csv
from sim.report.values import as_values, head
from sim.report.words import counted, harmless, listed, plain, share
from sim.scenario.scenario import Scenario, Variant
from sim.timebase import FLICKS, Rate, show_time

PROOF = "staylit-proof 1"
MOST_NAMES = 4
HEADS = (
    "worked", "frames\nwhile pulled", "frames\nonce put back", "camera\nrate", "by whom", "when",
)  # fmt: skip
"""Of the blanks, in the order of `filled.BLANKS`."""
HOW = Points(
    (
        "Do the steps in this order, with nothing on show that must not go dark; go on only when "
        "all is as before. Somebody at the desk is ready to fade to black.",
        "Film the wall or region that a step names, with a short exposure and a camera whose frame "
        "rate is known. Count the frames of the camera on which any part of it shows the state "
        "that the step names; a frame caught between two pictures counts if more than half does.",
        "frames: of the show, from the least to the most over the ranges of the timings and over "
        "the moment of the pull; in brackets the mean at typical timings.",
        "worked: yes if the backup took over as written, no if it did not. by and when: who did "
        "it, and date and time, or how long before the show.",
        "Fill in the CSV of this sheet (--format csv) and read it with `staylit proof SCENARIO "
        "--read SHEET.csv --output FILE.yaml`.",
    )
)


def blocks(
    sheet: Sheet, variants: Sequence[Variant], scenario: Scenario, reach: Mapping[str, str]
) -> Blocks:
    """The whole sheet, to print."""
    made = "; ".join(f"{v.group}: {v.label}" for v in variants)
    return (
        Heading(harmless(f"{scenario.title}: test sheet for the real rig ({made})"), 1),
        *_lead(sheet),
        *([_overview(sheet)] if sheet.steps else []),
        Heading("How to use it"),
        HOW,
        *(
            block
            for number, step in enumerate(sheet.steps, 1)
            for block in _step(number, step, sheet, scenario.rate, reach)
        ),
        Heading("Cautions"),
        Points((*CAUTIONS.texts[:3], *([REGION] if _any_blinks(sheet) else []))),
    )


def _any_blinks(sheet: Sheet) -> bool:
    return any(step.blinks for step in sheet.steps)


def _lead(sheet: Sheet) -> Iterator[Block]:
    found, number = sheet.picked, len(sheet.steps)
    if not sheet.protections:
        yield Para("This rig has no protection that could be tried.", warning=True)
        return
    done = len(sheet.protections) - len(found.out)
    yield Para(
        f"{counted(number, 'step')} {'makes' if number == 1 else 'make'} "
        f"{'the one protection act' if done == 1 else f'all {done} protections act'}."
        f"{_bound(sheet)}"
    )
    if found.out:
        yield Para(f"No single pull makes these act: {_names(found.out, 12)}.", warning=True)
    if found.perhaps:
        yield Para(
            f"With typical timings only, so that they may have nothing to do: "
            f"{_names(found.perhaps, 12)}."
        )


def _bound(sheet: Sheet) -> str:
    """Why fewer steps cannot do, with a space before it."""
    found, number = sheet.picked, len(sheet.steps)
    if number < 2:
        return ""
    if len(found.apart) == number:
        return f" Fewer cannot: no pull makes two of these act: {_names(found.apart, 12)}."
    if found.searched:
        return f" Fewer cannot: every smaller choice of pulls was ruled out (bound {found.bound})."
    return f" At least {found.bound} are needed; the search for fewer was not finished."


def _names(of: Sequence[Protection], most: int) -> str:
    names = [_protection(each) for each in of[:most]]
    more = len(of) - len(names)
    return "; ".join([*names, *([f"and {more} more"] if more else [])])


def _protection(each: Protection) -> str:
    return f"{_subject(each)} {KINDS[each.kind]}"


def _subject(each: Protection) -> str:
    """What protects, and in brackets what it then relies on."""
    if each.kind == "return":
        return f"receiving card {harmless(each.thing.removesuffix('/receiver'))}"
    name = harmless(plain(each.name.removesuffix("#sync").removesuffix("#reference")))
    if each.kind in ("feed", "source", "reference", "input"):
        return f"{name} ({harmless(plain(each.by))})"
    return name


def _overview(sheet: Sheet) -> Table:
    rows = tuple(
        (
            str(number),
            harmless(plain_name(step)),
            harmless(step.filmed.target) if step.filmed.state else "-",
            step.filmed.state or "nothing",
            _span(step.filmed.pulled),
            "-" if step.hold is None else _span(step.filmed.back),
        )
        for number, step in enumerate(sheet.steps, 1)
    )
    heading = ("step", "do", "film", "state", "frames\nwhile pulled", "frames\nonce put back")
    return Table(heading, rows, frozenset({0, 4, 5}))


def plain_name(step: Step) -> str:
    """What is done to what, as a sentence has it."""
    return f"{step.pull.do} {plain(step.pull.on)}"


def _span(span: Span | None) -> str:
    if span is None:
        return "stays"
    if span.least == span.most:
        return str(span.least)
    return f"{span.least}..{span.most} ({mean(span.typical)})"


def mean(value: Fraction) -> str:
    """A mean number of frames, to a tenth."""
    return f"{float(value):.1f}"


def _step(
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
            "wall, and darken the wall first.",
            warning=True,
        )
    elif step.blinks:
        yield Para(
            "Flashing: a quarter of the group or more blinks. Do not repeat it within seconds, "
            "and warn whoever may be photosensitive.",
            warning=True,
        )
    yield Table(HEADS, (("......",) * len(HEADS),))


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
            names = [_subject(each) for each in of[:MOST_NAMES]]
            more = len(of) - len(names)
            names += [f"{more} more"] if more else []
            yield f"Tries{perhaps}: {what}: {listed(names)}."


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
    return _span(span) if span is not None else "no stated number of"


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


def document(sheet: Sheet, variants: Sequence[Variant], scenario: Scenario) -> dict[str, Any]:
    """All of it as plain values."""
    return {
        **head(PROOF, scenario),
        "variants": as_values(variants),
        "steps": as_values(sheet.steps),
        "protections": as_values(sheet.protections),
        "fewest": {
            "steps": len(sheet.steps),
            "bound": sheet.picked.bound,
            "searched": sheet.picked.searched,
            "apart": as_values(sheet.picked.apart),
            "perhaps": as_values(sheet.picked.perhaps),
            "out": as_values(sheet.picked.out),
        },
    }


def csv(sheet: Sheet) -> str:
    """The sheet to be filled in: one line for each step, blanks at its end."""
    return as_csv(COLUMNS, (_record(n, step) for n, step in enumerate(sheet.steps, 1)))


def _record(number: int, step: Step) -> dict[str, Any]:
    filmed = step.filmed
    kinds = [each.kind for each in step.acts]
    return {
        **dict.fromkeys(COLUMNS),
        "step": number,
        "do": step.pull.do,
        "thing": step.pull.on,
        "place": step.place,
        "tries": [f"{kind} {kinds.count(kind)}" for kind in dict.fromkeys(kinds)],
        "film": filmed.target if filmed.state else "",
        "state": filmed.state or "nothing",
        **_ends("pulled", filmed.pulled),
        **_ends("back", filmed.back if step.hold is not None else None),
        "put_back_after_s": None if step.hold is None else step.hold // FLICKS,
    }


def _ends(phase: str, span: Span | None) -> dict[str, Any]:
    values = (None,) * 3 if span is None else (span.least, mean(span.typical), span.most)
    return dict(
        zip((f"{phase}_{end}" for end in ("least", "typical", "most")), values, strict=True)
    )
