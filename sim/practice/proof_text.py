"""What tests showed as the text of a file that a scenario names under `proof_files`.

In: a frozen `Proof`, the name of the sheet. Out: YAML. Same sheet, same scenario: the same bytes;
no date but the sheet's. Ranges are rounded outwards to a microsecond.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator

from sim.practice.proving import Better, Proof, Trial
from sim.timebase import FLICKS, Timing

FORMAT = 1
MICRO = 1_000_000


def proof_text(proof: Proof, sheet: str) -> str:
    """The text of the file. `sheet`: the name of the filled sheet."""
    head = [
        f"# What tests of the real rig showed ({sheet}). Name this file in the scenario:",
        "# proof_files: [FILE]",
        f"format: {FORMAT}",
    ]
    timings = [line for each in proof.better for line in _timing(each, sheet)]
    proved = [trial for trial in proof.trials if trial.row.worked and trial.step.relied]
    tested = [line for trial in proved for line in _tested(trial, sheet)]
    known = {name for trial in proved for name in trial.step.relied}
    tested += [line for trial in proof.failed for line in _failed(trial, sheet, known)]
    return "\n".join([
        *head,
        *(["timings:", *timings] if timings else ["timings: {}"]),
        *(["tested:", *tested] if tested else ["tested: []"]),
        "",
    ])  # fmt: skip


def _timing(each: Better, sheet: str) -> Iterator[str]:
    yield f"  {_quoted(each.key)}:"
    yield f"    range: {_quoted(range_text(each.after))}"
    yield f"    grade: {each.after.grade}"
    yield f"    source: {_quoted(f'{sheet}: ' + '; '.join(each.by))}"


def range_text(timing: Timing) -> str:
    """A range in milliseconds, its ends moved outwards to whole microseconds."""
    least = timing.least * MICRO // FLICKS
    most = -(-timing.most * MICRO // FLICKS)
    typical = min(max(timing.typical * MICRO // FLICKS, least), most)
    return f"{_ms(least)} .. {_ms(most)}, typically {_ms(typical)}"


def _ms(micro: int) -> str:
    whole, rest = divmod(micro, 1000)
    return f"{whole}.{rest:03} ms"


def _tested(trial: Trial, sheet: str) -> Iterator[str]:
    row = trial.row
    seconds, rest = divmod(row.before, FLICKS)
    before = f"{seconds} s" if not rest else f"{row.before * 1000 // FLICKS} ms"
    said = f"{sheet}, line {row.line}: {row.pull.name}, by {row.by}, {row.when}"
    yield from _entry(before, said, trial.step.relied)


def _failed(trial: Trial, sheet: str, known: set[str]) -> Iterator[str]:
    """What should have carried the show and did not counts as never tested, whatever the scenario
    says of it, but what another test has proved.
    """
    row, things = trial.row, [name for name in trial.step.relied if name not in known]
    if things:
        said = f"did not bring the backup, by {row.by}, {row.when}"
        yield from _entry("never", f"{sheet}, line {row.line}: {row.pull.name} {said}", things)


def _entry(before: str, evidence: str, things: Iterable[str]) -> Iterator[str]:
    yield f"  - before: {_quoted(before)}"
    yield f"    evidence: {_quoted(evidence)}"
    yield "    things:"
    yield from (f"      - {_quoted(_plain(name))}" for name in things)


def _plain(name: str) -> str:
    """A name as a pattern that means it alone."""
    return re.sub(r"([*?[])", r"[\1]", name)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
