"""The command `staylit proof`: a test sheet for the real rig, and what a filled one shows.

In: arguments. Out: the sheet; with --read what it shows, and with --output then a file that the
scenario may name under `proof_files`; an exit status. No file is ever written over without --force,
nor over the scenario or the sheet.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click

from sim.cli_asked import asked_of, hand_over, not_an_input, progress
from sim.cli_options import (
    PAGE_FORMATS,
    REPORT_FORMATS,
    SCENARIO,
    Command,
    group_option,
    output_options,
    page_format,
    scenario_argument,
    topology_option,
)
from sim.errors import refuse


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@click.option("--read", "sheet", default="", metavar="SHEET", help="Read a filled sheet (CSV).")
@click.option(
    "--begins", default="", metavar="TIME",
    help='With --read: when the show begins, such as "2026-05-01 20:00".',
)  # fmt: skip
@click.option("--force", is_flag=True, help="With --read: write over an --output that is there.")
@group_option
@topology_option
@page_format
@output_options
def proof(
    scenario: str, sheet: str, begins: str, force: bool, output: str, width: int | None,
    **chosen: Any,
) -> int:  # fmt: skip
    """Write a test sheet for the real rig, or read a filled one.

    The sheet lists the fewest pulls that make every protection act once, the safest first, with
    what the model expects of each. Print its page (html or
    pdf); fill in the CSV. With --read the
    filled CSV dates what was tested, narrows timings by the frames that a camera counted, and names
    what contradicts the model; --output is then a file for the scenario (proof_files).
    """
    from sim import commands as do
    from sim.leaving import tell
    from sim.output import may_be_written, put, put_new
    from sim.scenario.loader import inputs_of

    if not sheet:
        _only_with_read(begins, force)
        asked = asked_of(scenario, output, width, chosen, PAGE_FORMATS)
        with progress("choosing pulls", ""):
            made = do.proof(asked)
        return hand_over(made, output, asked)
    _text_only(chosen["form"])
    asked = asked_of(scenario, "", width, chosen)
    filled = Path(sheet)
    not_an_input(output, inputs_of(asked.path) if output else ())
    may_be_written(output, [filled], called="the filled sheet itself")
    with progress("reading the sheet", ""):
        made, text = do.proof_read(asked, filled, begins)
    if output:
        put_new(text, output, force)
        name = output if re.fullmatch(r"[\w./-]+", output) else json.dumps(output)
        said = f"wrote {name}; next: name it in the scenario, as proof_files: [{name}]"
        tell(said)
    put(made.text)
    return made.status


def _text_only(form: str | None) -> None:
    """With --read the --output is the file for the scenario; the report goes to the terminal."""
    if form in ("html", "pdf"):
        found = f"{form} is not written with --read"
        raise refuse("--format", found, ", ".join(REPORT_FORMATS), todo="leave it out")


def _only_with_read(begins: str, force: bool) -> None:
    for name, said in (("--begins", begins), ("--force", force)):
        if said:
            raise refuse(name, "without --read", "beside --read SHEET", todo="leave it out")
