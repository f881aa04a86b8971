"""The command `staylit rehearse`: a drill against hidden faults, from a terminal or a script.

In: arguments, and without a script one act after the other on standard input. Out: situations on
standard error, the report after the drill on standard output; a record of what was done.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sim.cli_asked import asked_of, hand_over
from sim.cli_options import SCENARIO, Command, format_option, output_options, scenario_argument

if TYPE_CHECKING:
    from sim.asked import Asked
    from sim.commands_rehearse import Ready
    from sim.practice.drill import Situation

FORMATS = ("text", "markdown", "json")
SCRIPT = "What the engineer does (YAML); without it acts are asked for one by one."
BEGIN = "One act a line; `help` tells which there are, `done` ends them."


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@click.option("--drill", required=True, metavar="FILE", help="The drill, or one of the program's.")
@click.option("--script", default="", metavar="FILE", help=SCRIPT)
@click.option("--record", default="", metavar="FILE", help="Write the acts done as a script.")
@click.option("--best", is_flag=True, help="Look for the best course too (up to a minute).")
@format_option(*FORMATS)
@output_options
def rehearse(
    scenario: str, drill: str, script: str, record: str, output: str, width: int | None,
    **chosen: Any,
) -> int:  # fmt: skip
    """Rehearse a drill: a rig with faults that you do not know.

    You see what can be seen and say what you do; everything takes its time. The report tells in
    time code what every act brought, and holds it all against doing nothing.
    """
    from sim import commands_rehearse as do
    from sim.output import may_be_written
    from sim.shipped import find_drill

    best: bool = chosen.pop("best")
    asked, path = asked_of(scenario, output, width, chosen, FORMATS), find_drill(drill)
    inputs = [path, *([Path(script)] if script else [])]
    may_be_written(output, inputs, called="what it is made from")
    may_be_written(record, [asked.path, *inputs], "--record", "what it is made from")
    if script:
        if record:
            raise click.UsageError("--record belongs to a drill without --script.")
        return hand_over(do.rehearse(asked, path, Path(script), best), output, asked)
    return _by_hand(do.ready(asked, path), asked, record, best, output)


def _by_hand(begun: Ready, asked: Asked, record: str, best: bool, output: str) -> int:
    """Ask for acts until the drill or what is said ends; then write record and report."""
    from sim.commands_rehearse import told
    from sim.leaving import INTERRUPTED
    from sim.output import put
    from sim.report.situation import situation_lines
    from sim.session import script_text, session

    def show(now: Situation, before: Situation | None) -> None:
        _say("\n".join(situation_lines(now, before, begun.plan.rig, begun.scenario)))

    texts: list[str] = []
    _say(BEGIN)
    try:
        found = session(begun.plan, begun.tongue, _hear, show, _say, texts.append)
    finally:
        if record:
            put(script_text(texts, begun.plan.title), record)
    status = hand_over(told(begun, found.acts, asked, best), output, asked)
    return INTERRUPTED if found.interrupted else status


def _say(text: str) -> None:
    click.echo(text, err=True)


def _hear() -> str | None:
    """A line of standard input; None at its end."""
    click.echo("> ", nl=False, err=True)
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        click.echo("", err=True)
        return None
    return line
