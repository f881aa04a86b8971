"""The command `staylit risk`: how likely a bad night is, what it costs, what would help.

In: arguments. Out: the report; an exit status: 1 if a stated limit is not met or, with --verify,
simulation and theory differ; 130 if it was interrupted, with what was worked out until then.
"""

from __future__ import annotations

from typing import Any

import click

from sim.cli_asked import asked_of, hand_over, how_of, progress
from sim.cli_options import (
    PAGE_FORMATS,
    SCENARIO,
    Command,
    Number,
    checkpoint_option,
    group_option,
    output_options,
    page_format,
    scenario_argument,
    work_options,
)

MOST_SHOWS = 1_000_000_000
MOST_SEED = 2**32 - 1
PLAIN = "Sample plainly as well (--shows: with a fault), to hold both ways against each other."


ALSO = "--verify, --plain, --shows, --precision, --workers, --cluster and --checkpoint"
MENDED_AFTER = 4.0
"""Hours, unless asked."""


@click.command(cls=Command, epilog=SCENARIO)
@scenario_argument
@group_option
@click.option("--topology", default="", metavar="LABEL", help="Only this topology.")
@click.option(
    "--seed", type=click.IntRange(0, MOST_SEED), default=1, show_default=True,
    help="Other seeds give other shows.",
)  # fmt: skip
@click.option(
    "--shows", type=click.IntRange(1, MOST_SHOWS), help="Shows at most, the first look among them."
)
@click.option(
    "--precision", type=Number(0, 1, min_open=True, max_open=True),
    help="Stop at this standard error, as a part of the value (0.01).",
)  # fmt: skip
@work_options
@checkpoint_option
@click.option("--verify", is_flag=True, help="Hold the simulation against theory.")
@click.option("--plain", is_flag=True, help=PLAIN)
@click.option(
    "--cut-sets",
    "order",
    type=click.IntRange(1, 2),
    help="Minimal cut sets of so many faults at most, by theory alone.",
)
@click.option(
    "--mended-after", type=Number(0, 1e6, min_open=True), metavar="HOURS",
    help=f"With --cut-sets: mean time to mend, in the long run; default: {MENDED_AFTER:g}.",
)  # fmt: skip
@page_format
@output_options
def risk(
    scenario: str, verify: bool, order: int | None, mended_after: float | None, output: str,
    width: int | None, **chosen: Any,
) -> int:  # fmt: skip
    """Tell how likely a bad night is, what it costs, what helps.

    Exit status 1 if the topology offered does not meet a stated limit, or if, with --verify,
    simulation and theory differ.
    """
    from sim import commands as do
    from sim.executors import HERE
    from sim.risk.asked import RiskAsked

    sampling = {name: chosen.pop(name) for name in ("seed", "shows", "precision", "plain")}
    how = how_of(chosen, output)
    asked = asked_of(scenario, output, width, chosen, PAGE_FORMATS)
    wanted = RiskAsked(asked.topology, **sampling)
    if order is not None:
        _by_theory_alone(verify, how != HERE, *map(sampling.get, ("plain", "shows", "precision")))
        with progress("theory of", "") as told:
            made = do.cut_sets(asked, wanted, order, mended_after or MENDED_AFTER, told)
        return hand_over(made, output, asked)
    if mended_after is not None:
        raise click.UsageError("--mended-after belongs to --cut-sets.")
    with progress("simulating shows", "") as told:
        made = (do.verify if verify else do.risk)(asked, wanted, told, how)
    return hand_over(made, output, asked)


def _by_theory_alone(*more: object) -> None:
    """Raises UsageError where shows are asked for as well."""
    if any(more):
        raise click.UsageError(f"--cut-sets is theory alone: leave out {ALSO}.")
