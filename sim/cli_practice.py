"""The command `staylit diagnose`: from what is seen to what may have failed.

In: arguments. Out: the report; exit status 0, also where nothing explains what was seen.
"""

from __future__ import annotations

from typing import Any

import click

from sim.cli_asked import asked_of, hand_over, progress
from sim.cli_options import (
    SCENARIO,
    Command,
    group_option,
    output_options,
    report_format,
    scenario_argument,
    topology_option,
)


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@click.option(
    "--seen", multiple=True, metavar="TEXT",
    help='A place and how it looks, such as "main dark"; as often as needed.',
)  # fmt: skip
@click.option(
    "--report", "reports", multiple=True, metavar="TEXT",
    help='What a unit or link reports, such as "port NAME: link no"; as often as needed.',
)  # fmt: skip
@click.option(
    "--since", default="", metavar="TIME",
    help='How long it has looked so, such as "30 s", or "start"; default: for long.',
)  # fmt: skip
@group_option
@topology_option
@report_format
@output_options
def diagnose(
    scenario: str, seen: tuple[str, ...], reports: tuple[str, ...], since: str, output: str,
    width: int | None, **chosen: Any,
) -> int:  # fmt: skip
    """Tell what may have failed, and what to look at next.

    A place is a wall, a region, a cabinet (main/r3c2), a pattern of cabinets, or "all else"; it is
    dark, corrupt, wrong, frozen, unlocked, jumping or lit, "steady" (lit all the time) or
    "blinked" (lit again). "main dark" is some of it, "main all dark" the whole. Of reports and
    alarms write the sentence: "unit NAME: answers no", "link NAME: light weak", "alarm NAME",
    "no alarm"; and of a test "swap NAME: helped" or "swap NAME: no change".
    """
    from sim import commands as do

    asked = asked_of(scenario, output, width, chosen)
    with progress("looking at faults", ""):
        made = do.diagnose(asked, seen, reports, since)
    return hand_over(made, output, asked)
