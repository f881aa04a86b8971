"""What a filled test sheet shows, for people: what failed, what contradicts, what timings are.

In: a frozen `Proof`. Out: blocks, CSV, a JSON-able document; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sim.practice.narrowing import Clash
from sim.practice.protections import KINDS, Protection
from sim.practice.proving import Better, Proof
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.tables import as_csv
from sim.report.values import as_values, head
from sim.report.words import counted, harmless, listed, plain
from sim.scenario.scenario import Scenario, Variant
from sim.timebase import FLICKS, Rate, Timing, show_time

PROVED = "staylit-proof-read 1"
MOST_LEFT = 12
READ = Points(
    (
        "A range holds every value that the frames allow, whatever the other timings are within "
        "theirs; so one number may say little of several timings that add up.",
        "measured: no more than half of the range is left; else the grade stays.",
        "Things that carried picture, step or power while something was pulled count as tested "
        "from then on: `staylit risk` counts for how long they may have been dead since. What "
        "should have carried it and did not counts as never tested, whatever was said before.",
    )
)


def blocks(proof: Proof, variants: Sequence[Variant], scenario: Scenario) -> Blocks:
    """The whole report."""
    made = "; ".join(f"{v.group}: {v.label}" for v in variants)
    return (
        Heading(harmless(f"{scenario.title}: what the test sheet shows ({made})"), 1),
        *_lead(proof),
        *_contradictions(proof, scenario.rate),
        *_timings(proof),
        *_left(proof.left),
        Heading("How to read it"),
        READ,
        Heading("Cautions"),
        Points(CAUTIONS.texts[:1]),
    )


def _lead(proof: Proof) -> Iterator[Block]:
    number, worked = len(proof.trials), len(proof.trials) - len(proof.failed)
    if not number:
        yield Para("No row of the sheet is filled in.", warning=True)
        return
    yield Para(
        f"{counted(number, 'test')} done, {worked} worked: "
        f"{counted(len(proof.tried), 'protection')} proved, {len(proof.lost)} failed, "
        f"{len(proof.left)} not tried."
    )
    for trial in proof.failed:
        step = trial.step
        acts = listed(f"{n} x {k}" for k, n in _kinds(step.acts))
        yield Para(
            harmless(
                f"Line {trial.row.line}: {trial.row.pull.name} did not bring the backup ({acts}). "
                "The model says it should: mend it, or do not count on it."
            ),
            warning=True,
        )


def _kinds(acts: Sequence[Protection]) -> list[tuple[str, int]]:
    kinds = [KINDS[each.kind] for each in acts]
    return [(kind, kinds.count(kind)) for kind in dict.fromkeys(kinds)]


def _contradictions(proof: Proof, rate: Rate) -> Iterator[Block]:
    for clash in proof.clashes:
        yield Para(harmless(_clash(clash, rate)), warning=True)
    if proof.unused:
        yield Points(tuple(harmless(f"Not used: {label}: {why}.") for label, why in proof.unused))


def _clash(clash: Clash, rate: Rate) -> str:
    counted_ = f"{_time(clash.counted[0], rate)} to {_time(clash.counted[1], rate)}"
    model = f"{_time(clash.model[0], rate)} to {_time(clash.model[1], rate)}"
    if len(clash.labels) == 1:
        return (
            f"{clash.labels[0].capitalize()} disagrees with the model: counted {counted_}, the "
            f"model allows {model} wherever in their ranges the timings lie. The ranges are left "
            "as they were; count again, or look for what the model does not know."
        )
    return (
        f"These contradict each other, and narrow nothing: {'; '.join(clash.labels)}. Count again."
    )


def _time(flicks: int, rate: Rate) -> str:
    return show_time(flicks, rate)


def _timings(proof: Proof) -> Iterator[Block]:
    yield Heading("Timings")
    if not proof.better:
        yield Para("No range is narrower than before.")
        return
    yield Table(
        ("timing", "was", "is", "by"),
        tuple(_timing(each) for each in proof.better),
        ruled=True,
    )


def _timing(each: Better) -> tuple[str, ...]:
    by = harmless("\n".join(each.by))
    return harmless(each.key), _range(each.before), _range(each.after), by


def _range(timing: Timing) -> str:
    """Both ends in one unit, to a thousandth of it; below them how it is known."""
    unit, flicks = ("s", FLICKS) if timing.most >= 10 * FLICKS else ("ms", FLICKS // 1000)
    least, most = (f"{end / flicks:.3f}".rstrip("0").rstrip(".") for end in _ends(timing))
    return f"{least}..{most} {unit}\n{timing.grade}"


def _ends(timing: Timing) -> tuple[int, int]:
    return timing.least, timing.most


def _left(left: Sequence[Protection]) -> Iterator[Block]:
    if not left:
        return
    names = [f"{plain(each.name)} {KINDS[each.kind]}" for each in left[:MOST_LEFT]]
    more = [f"and {len(left) - MOST_LEFT} more"] if len(left) > MOST_LEFT else []
    yield Heading("Not tried")
    yield Points(tuple(map(harmless, [*names, *more])))


def document(proof: Proof, variants: Sequence[Variant], scenario: Scenario) -> dict[str, Any]:
    """All of it as plain values."""
    return {
        **head(PROVED, scenario),
        "variants": as_values(variants),
        "proof": as_values(proof),
    }


HEAD = ("kind", "what", "was_least", "was_most", "is_least", "is_most", "grade", "text")


def csv(proof: Proof) -> str:
    """One line for each narrowed timing (flicks), failed test, contradiction, count not used."""
    return as_csv(HEAD, (dict.fromkeys(HEAD) | record for record in _records(proof)))


def _records(proof: Proof) -> Iterator[dict[str, Any]]:
    for each in proof.better:
        yield {
            "kind": "timing", "what": each.key, "was_least": each.before.least,
            "was_most": each.before.most, "is_least": each.after.least,
            "is_most": each.after.most, "grade": each.after.grade, "text": each.by,
        }  # fmt: skip
    for trial in proof.failed:
        yield {"kind": "failed", "what": trial.row.pull.name, "text": f"line {trial.row.line}"}
    for clash in proof.clashes:
        yield {"kind": "contradiction", "what": clash.labels, "is_least": clash.counted[0],
               "is_most": clash.counted[1], "was_least": clash.model[0],
               "was_most": clash.model[1]}  # fmt: skip
    for label, why in proof.unused:
        yield {"kind": "not used", "what": label, "text": why}
    for left in proof.left:
        yield {"kind": "not tried", "what": left.name, "text": KINDS[left.kind]}
