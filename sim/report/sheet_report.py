"""A test sheet for people: to print, to fill in as CSV, or as data.

In: a frozen `Sheet`, the topologies, where places can be reached. Out: blocks, CSV, a JSON-able
document; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sim.practice.cautions import FLASHING as REGION
from sim.practice.filled import COLUMNS
from sim.practice.filming import Span
from sim.practice.protections import KINDS, Protection
from sim.practice.testsheet import Sheet, Step
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.sheet_steps import few_of, mean, plain_name, span_words, step_blocks
from sim.report.tables import as_csv
from sim.report.values import as_values, head
from sim.report.words import counted, harmless
from sim.scenario.scenario import Scenario, Variant
from sim.timebase import FLICKS

PROOF = "staylit-proof 1"
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
            for block in step_blocks(number, step, sheet, scenario.rate, reach)
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
        yield Para(f"No single pull makes these act: {_by_kind(found.out)}.", warning=True)
    if found.perhaps:
        yield Para(
            f"Sure at typical timings only; at others these may have nothing to do: "
            f"{_by_kind(found.perhaps)}."
        )


def _bound(sheet: Sheet) -> str:
    """Why fewer steps cannot do, with a space before it."""
    found, number = sheet.picked, len(sheet.steps)
    if number < 2:
        return ""
    if len(found.apart) == number:
        return f" Fewer cannot do it: no pull makes two of these act: {_by_kind(found.apart)}."
    if found.searched:
        ruled_out = f"every smaller choice of pulls was ruled out (bound {found.bound})"
        return f" Fewer cannot do it: {ruled_out}."
    return f" At least {found.bound} are needed; the search for fewer was not finished."


def _by_kind(of: Sequence[Protection]) -> str:
    """Protections by what they do."""
    kinds = {what: [p for p in of if p.kind == kind] for kind, what in KINDS.items()}
    return "; ".join(f"{what}: {few_of(some)}" for what, some in kinds.items() if some)


def _overview(sheet: Sheet) -> Table:
    rows = tuple(
        (
            str(number),
            harmless(plain_name(step)),
            harmless(step.filmed.target) if step.filmed.state else "-",
            step.filmed.state or "nothing",
            span_words(step.filmed.pulled),
            "-" if step.hold is None else span_words(step.filmed.back),
        )
        for number, step in enumerate(sheet.steps, 1)
    )
    heading = ("step", "do", "film", "state", "frames\nwhile pulled", "frames\nonce put back")
    return Table(heading, rows, frozenset({0, 4, 5}))


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
    values = (
        (None,) * 3
        if span is None
        else (span.least, mean(span.typical).replace(" ", ""), span.most)
    )
    return dict(
        zip((f"{phase}_{end}" for end in ("least", "typical", "most")), values, strict=True)
    )
