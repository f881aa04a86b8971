"""The command `staylit slips`: action slips for the desk, the never-do list, the hand-over.

In: arguments. Out: the slips, to be read or printed; exit status 0.
"""

from __future__ import annotations

import click

from sim.cli_asked import asked_of, hand_over, progress
from sim.cli_options import (
    SCENARIO,
    Command,
    format_option,
    group_option,
    output_options,
    scenario_argument,
    topology_option,
)

FORMATS = ("text", "markdown", "json", "html", "pdf")
PAPERS = ("a6", "a4")


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@click.option(
    "--degraded", multiple=True, metavar="FAULT",
    help='What has failed already, such as "dead main/unit-b before the show" (for the hand-over).',
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(PAPERS), default="a6", show_default=True,
    help="For html and pdf: one slip on a page of A6, or four on a sheet of A4.",
)  # fmt: skip
@group_option
@topology_option
@format_option(*FORMATS)
@output_options
def slips(
    scenario: str, degraded: tuple[str, ...], paper: str, output: str, width: int | None,
    **chosen: str,
) -> int:  # fmt: skip
    """Write action slips for the desk: what to do first, what never.

    One slip for each group of faults that look alike, the dearest first: what you see, what
    recovers alone, what to do first and second, what never. Every act was tried on the model of the
    rig. With the never-do list and a hand-over of one page.
    """
    from sim import commands as do

    asked = asked_of(scenario, output, width, chosen, FORMATS)
    with progress("trying acts", "") as told:
        made = do.slips(asked, degraded, paper, told)
    return hand_over(made, output, asked)
