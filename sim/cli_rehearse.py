"""The command `staylit rehearse`: a drill against hidden faults, from a terminal or a script.

In: arguments, and without a script one act after the other on standard input. Out: situations on
standard error, the report after the drill on standard output; a record of what was done.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sim.cli_asked import asked_of, hand_over, progress
from sim.cli_options import (
    SCENARIO,
    Command,
    Number,
    format_option,
    group_option,
    output_options,
    paper_option,
    scenario_argument,
    topology_option,
)
from sim.errors import refuse

if TYPE_CHECKING:
    from sim.asked import Asked
    from sim.commands_rehearse import Ready, Results
    from sim.practice.drill import Situation
    from sim.session import Session

FORMATS = ("text", "markdown", "json", "html", "pdf")
MIDDLING = "middling"
DIFFICULTIES = ("easy", MIDDLING, "hard")
DRAWN = "A drill drawn by likelihood with this seed, instead of one from a file."
MADE_FROM = "what it is made from"


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What only this command is asked."""

    drill: str
    drawn: int | None
    difficulty: str | None
    write_drill: str
    script: str
    record: str
    pace: float | None
    results: str
    date: str
    progress: bool
    best: bool

    @property
    def files(self) -> Mapping[str, str]:
        """What may be written besides the report, by option."""
        return {
            "--record": self.record,
            "--write-drill": self.write_drill,
            "--results": self.results,
        }


SCRIPT = "What the engineer does (YAML); without it acts are asked for one by one."
RESULTS = "An engineer's own table of drills (CSV), which gets a line of this one."
PACE = "Let time run by itself, N times as fast as in reality (1: real time)."
RUNS = "Time runs by itself; an empty line shows how it stands."
ALONE = " What changes is shown by itself; what you have typed of a line still counts."
WIDE = 100
"""Characters of a line where there is no terminal to ask."""
BEGIN = "One act a line; `help` tells which there are, `done` ends them."


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@click.option("--drill", default="", metavar="FILE", help="The drill, or one of the program's.")
@click.option("--drawn", type=click.IntRange(0, 2**63 - 1), help=DRAWN)
@click.option(
    "--difficulty", type=click.Choice(DIFFICULTIES), help="Of --drawn; default: middling."
)
@click.option("--write-drill", default="", metavar="FILE", help="Write the drawn drill as a file.")
@group_option
@topology_option
@click.option("--script", default="", metavar="FILE", help=SCRIPT)
@click.option("--record", default="", metavar="FILE", help="Write the acts done as a script.")
@click.option("--pace", type=Number(0.1, 1000), metavar="N", help=PACE)
@click.option("--results", default="", metavar="FILE", help=RESULTS)
@click.option("--date", default="", metavar="DAY", help="Of --results; default: today.")
@click.option("--progress", is_flag=True, help="Print what --results tells, without a drill.")
@click.option("--best", is_flag=True, help="Look for the best course too (up to a minute).")
@format_option(*FORMATS)
@paper_option
@output_options
def rehearse(scenario: str, output: str, width: int | None, **chosen: Any) -> int:
    """Rehearse a drill: a rig with faults that you do not know.

    You see what can be seen and say what you do; everything takes its time. The report tells in
    time code what every act brought, and holds it all against doing nothing.
    """
    from sim import commands_rehearse as do
    from sim.output import may_be_written
    from sim.scenario.loader import inputs_of
    from sim.shipped import find_drill

    wanted = _Wanted(**{each.name: chosen.pop(each.name) for each in fields(_Wanted)})
    _one_of(wanted, [name for name in ("group", "topology") if chosen[name]])
    asked = asked_of(scenario, output, width, chosen, FORMATS)
    if wanted.progress:
        may_be_written(output, [Path(wanted.results)], called=MADE_FROM)
        return hand_over(do.progress(asked, Path(wanted.results)), output, asked)
    path = find_drill(wanted.drill) if wanted.drill else None
    beside = path.with_suffix(".script.yaml") if path and path.is_file() else None
    inputs = [Path(each) for each in (path, beside, wanted.script) if each]
    may_be_written(output, inputs, called=MADE_FROM)
    if any(wanted.files.values()):
        _may_be_kept(wanted, output, [*inputs_of(asked.path), *inputs])
    begun = do.ready(asked, path) if path else _drawn(asked, wanted)
    begun = replace(begun, best=wanted.best)
    if wanted.script:
        return hand_over(do.scripted(begun, Path(wanted.script), asked), output, asked)
    return _by_hand(begun, asked, wanted, output)


def _may_be_kept(wanted: _Wanted, output: str, inputs: list[Path]) -> None:
    """Raises InputError for a file to be written that is another one, or was read."""
    from sim.output import may_be_written

    every = {**wanted.files, "--output": output}
    for option, file in wanted.files.items():
        others = [Path(each) for name, each in every.items() if each and name != option]
        may_be_written(file, [*inputs, *others], option, MADE_FROM, option != "--results")


def _one_of(wanted: _Wanted, more: list[str]) -> None:
    """A drill is written or drawn, done from a script or by hand. Raises UsageError."""
    if wanted.progress:
        if not wanted.results or wanted.drill or wanted.drawn is not None or wanted.script:
            raise click.UsageError("--progress goes with --results FILE, and without a drill.")
        return
    if wanted.date and not wanted.results:
        raise click.UsageError("--date belongs to --results.")
    if bool(wanted.drill) == (wanted.drawn is not None):
        raise click.UsageError("Say either --drill FILE or --drawn SEED.")
    more += ["difficulty"] * bool(wanted.difficulty) + ["write-drill"] * bool(wanted.write_drill)
    if wanted.drill and more:
        raise click.UsageError(f"--{more[0]} belongs to --drawn: a drill file says its own.")
    for option in ("record", "results", "pace"):
        if wanted.script and getattr(wanted, option):
            raise click.UsageError(f"--{option} belongs to a drill without --script.")


def _drawn(asked: Asked, wanted: _Wanted) -> Ready:
    from sim.commands_rehearse import ready_drawn
    from sim.output import put
    from sim.practice.composing import drill_text

    with progress("drawing a drill", ""):
        begun = ready_drawn(asked, wanted.drawn or 0, wanted.difficulty or MIDDLING)
    if wanted.write_drill:
        put(drill_text(begun.file), wanted.write_drill)
    return begun


def _by_hand(begun: Ready, asked: Asked, wanted: _Wanted, output: str) -> int:
    """Ask for acts until the drill or what is said ends; then write record, results, report."""
    from sim.commands_rehearse import add_result, told
    from sim.leaving import INTERRUPTED
    from sim.output import put
    from sim.session import script_text

    kept = _results(begun, asked, wanted)
    texts: list[str] = []
    try:
        found = _talked(begun, wanted, texts)
    finally:
        if wanted.record:
            put(script_text(texts, begun.plan.title), wanted.record)
    if kept and found.interrupted:
        kept = replace(kept, what=replace(kept.what, broken=True))
    made, entry = told(begun, found.acts, asked, kept)
    status = hand_over(made, output, asked)
    if entry:
        add_result(Path(wanted.results), entry)
    return INTERRUPTED if found.interrupted else status


def _talked(begun: Ready, wanted: _Wanted, texts: list[str]) -> Session:
    """Do a drill line by line; `texts` gets those of its acts. What is no text is read all the
    same.
    """
    from sim.pacing import real
    from sim.prompting import Prompt, tick
    from sim.report.briefing import briefing_lines
    from sim.report.inject_report import moment
    from sim.report.situation import situation_lines
    from sim.session import Talk, session

    prompt, plan, scenario = Prompt(), begun.plan, begun.scenario
    pace = real(wanted.pace, tick()) if wanted.pace else None
    wide = shutil.get_terminal_size((WIDE, 24)).columns if sys.stderr.isatty() else WIDE

    def show(now: Situation, before: Situation | None) -> None:
        prompt.say("\n".join(situation_lines(now, before, plan.rig, scenario, wide)))
        prompt.clock = moment(now.at, scenario) if pace else ""

    if isinstance(sys.stdin, TextIOWrapper):
        sys.stdin.reconfigure(errors="backslashreplace")
    prompt.say("\n".join(briefing_lines(plan, begun.variants, scenario, wide)))
    prompt.say(BEGIN + (f" {RUNS}{ALONE if pace.tick else ''}" if pace else ""))
    return session(plan, begun.tongue, Talk(prompt.hear, show, prompt.say, texts.append, pace))


def _results(begun: Ready, asked: Asked, wanted: _Wanted) -> Results | None:
    """Where results are kept, if they are. Raises InputError for a file that is none, before the
    drill begins.
    """
    from sim.commands_rehearse import Results, results_in
    from sim.practice.results import What

    if not wanted.results:
        return None
    drill = Path(wanted.drill).stem if wanted.drill else f"drawn, {wanted.difficulty or MIDDLING}"
    day = _day(wanted.date)
    what = What(day, asked.path.stem, begun.main.label, drill, wanted.drawn)
    return Results(what, results_in(Path(wanted.results)))


def _day(said: str) -> str:
    """The day that a result is of: what is said, else today by the clock of the machine."""
    try:
        return (date.fromisoformat(said) if said else date.today()).isoformat()
    except ValueError:
        allowed = "a day such as 2026-11-27"
        raise refuse("--date", f"{said!r} is no day", allowed) from None
