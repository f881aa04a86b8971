"""The command line `staylit`: what can be asked, where results go, how errors end.

In: arguments. Out: results on standard output or in a file, progress and errors on standard error,
an exit status: 0 done, 1 a stated limit is not met or `risk --verify` finds a difference (and
nothing else), 2 wrong usage or input, or nowhere to write to, 70 the program failed at its own
work, 130 interrupted, 128 + N ended by signal N. A reader that has read enough (`| head`) changes
no status. Without a command the help goes to standard error, with 2: nothing was asked, so nothing
was judged. What the commands do lies in `commands`, which is loaded only when one runs.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from sim import __version__
from sim.cli_asked import asked_of, hand_over, how_of, progress
from sim.cli_options import (
    DRAWN_FORMATS,
    PAGE_FORMATS,
    SCENARIO,
    Commands,
    checkpoint_option,
    format_option,
    grid_asked,
    group_option,
    output_options,
    page_format,
    report_format,
    scenario_argument,
    topology_option,
    usage_problem,
    work_options,
)
from sim.cli_practice import diagnose
from sim.cli_proof import proof
from sim.cli_rates import rates
from sim.cli_rehearse import rehearse
from sim.cli_risk import risk
from sim.cli_slips import slips
from sim.errors import StaylitError
from sim.leaving import (
    BROKEN_OFF,
    INTERRUPTED,
    complain,
    failed,
    hush,
    leave_on_signals,
    refused,
    silence,
    tell,
)
from sim.memory import collect_rarely

MARK = (
    "Mark each thing of which one fault takes the whole picture, and say which fault (takes some "
    "seconds)."
)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="staylit", message="%(prog)s %(version)s")
def commands() -> None:
    """Which parts of an LED wall go dark, for how many frames, under which fault and backup.

    Start with `staylit new`, or try `staylit compare first`. Results are for planning: test the
    real backup before the show.
    """


def run(args: list[str]) -> int:
    """Run one command; the exit status. The only place that prints errors."""
    try:
        with commands.make_context("staylit", list(args)) as context:
            status = int(commands.invoke(context) or 0)
    except click.exceptions.Exit as end:
        status = end.exit_code
    except StaylitError as error:
        status = complain(str(error), error.exit_status)
    except click.UsageError as error:
        status = complain(str(usage_problem(error)), 2)
    except click.ClickException as error:
        status = complain(f"staylit: {error.format_message()}", 2)
    except (click.Abort, EOFError, KeyboardInterrupt):
        status = complain(BROKEN_OFF, INTERRUPTED)
    except BrokenPipeError:
        silence(sys.stdout)
        status = 0
    except OSError as error:
        status = refused(error)
    except Exception as error:
        status = failed(error)
    return status


def main() -> None:
    """The entry point: run, and leave with the status."""
    collect_rarely()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        leave_on_signals()
        status = run(sys.argv[1:])
    except KeyboardInterrupt:
        status = INTERRUPTED
    hush()
    sys.exit(status)


# ---- the commands


@commands.command(epilog=SCENARIO)
@scenario_argument
@group_option
@work_options
@checkpoint_option
@page_format
@output_options
def compare(scenario: str, output: str, width: int | None, **chosen: Any) -> int:
    """Hold the topologies of a wall group against each other.

    Exit status 1 if the topology offered does not meet a stated limit.
    """
    from sim import commands as do

    how = how_of(chosen, output)
    asked = asked_of(scenario, output, width, chosen, PAGE_FORMATS)
    with progress("comparing") as told:
        found = do.compared(asked, how, told)
    return hand_over(do.compare_in(found, asked), output, asked)


@commands.command(epilog=SCENARIO)
@scenario_argument
@group_option
@topology_option
@report_format
@output_options
def check(scenario: str, output: str, width: int | None, **chosen: str) -> int:
    """Check a rig before anything fails.

    Limits of its parts, single points, assumptions.

    Exit status 1 if the topology offered does not meet a stated limit.
    """
    from sim import commands as do

    asked = asked_of(scenario, output, width, chosen)
    return hand_over(do.check(asked), output, asked)


@commands.command(epilog=SCENARIO)
@scenario_argument
@click.argument("item")
@report_format
@output_options
def explain(scenario: str, item: str, output: str, width: int | None, **chosen: str) -> int:
    """Tell what ITEM is: its value, its source, what it moves.

    ITEM is a timing ("relay unit.detect"), an equipment type, a route, a circuit, a thing by its
    name in the rig ("main/unit-a": `draw --format json` has them all) or as reports print it, a
    limit ("limit 1", or its whole label), the place of an assumption, or a word of the reports
    ("latent").
    """
    from sim import commands as do

    asked = asked_of(scenario, output, width, chosen)
    return hand_over(do.explain(asked, item), output, asked)


@commands.command(epilog=SCENARIO)
@scenario_argument
@group_option
@topology_option
@click.option(
    "--pairs", is_flag=True, help="Double faults in both orders (a minute on a large rig)."
)
@click.option(
    "--mode", "modes", multiple=True, metavar="MODE",
    help="Only faults of this mode, such as dead (may be said several times).",
)  # fmt: skip
@work_options
@checkpoint_option
@page_format
@output_options
def faults(
    scenario: str, pairs: bool, modes: tuple[str, ...], output: str, width: int | None,
    **chosen: Any,
) -> int:  # fmt: skip
    """List what every single fault of a topology does, or every two.

    --workers, --cluster and --checkpoint are for --pairs.

    Exit status 1 if the topology offered does not meet a stated limit (not judged with --pairs).
    """
    from sim import commands as do
    from sim.asked import all_modes
    from sim.executors import HERE

    how = how_of(chosen, output)
    if how != HERE and not pairs:
        raise click.UsageError("--workers, --cluster and --checkpoint need --pairs.")
    asked = asked_of(scenario, output, width, chosen, PAGE_FORMATS, modes)
    if asked.page:
        all_modes(asked, f"--format {asked.format}")
    with progress("working out faults") as told:
        made = do.pairs(asked, how, told) if pairs else do.faults(asked, told)
    return hand_over(made, output, asked)


@commands.command(epilog=SCENARIO)
@scenario_argument
@click.argument("fault", nargs=-1, required=True)
@group_option
@topology_option
@click.option(
    "--fails", multiple=True, metavar="SELECTOR", help="This changeover fails when called on."
)
@click.option(
    "--timing", type=click.Choice(("least", "typical", "most")), default="typical",
    show_default=True, help="Where in their ranges all timings lie.",
)  # fmt: skip
@page_format
@output_options
def inject(
    scenario: str, fault: tuple[str, ...], fails: tuple[str, ...], output: str,
    width: int | None, **chosen: str,
) -> int:  # fmt: skip
    """Strike a rig with one or several faults and tell what happens.

    FAULT is a mode, a thing (or a pattern, or a route), and when: "cut main/trunk-main-1 at
    20:10:00;00 for 4 s", "dead main/r1c*/receiver at 5 s", "cut north shore for ever". A name that
    a report prints ("scaling unit A") will do where it can mean one thing only.
    """
    from sim import commands as do

    timing = chosen.pop("timing")
    asked = asked_of(scenario, output, width, chosen, PAGE_FORMATS)
    corner = timing if timing == "typical" else f"all-{timing}"
    return hand_over(do.inject(asked, fault, fails, corner), output, asked)


@commands.command(epilog=SCENARIO)
@scenario_argument
@group_option
@topology_option
@click.option("--mark", is_flag=True, help=MARK)
@format_option(*DRAWN_FORMATS)
@click.option("--output", default="", metavar="FILE", help="Write into a file.")
def draw(scenario: str, mark: bool, output: str, **chosen: str) -> int:
    """Draw a rig.

    As a picture (SVG) or graph (GraphML), or write it as data (JSON).
    """
    from sim import commands as do

    asked = asked_of(scenario, output, None, chosen, DRAWN_FORMATS)
    return hand_over(do.draw(asked, mark), output, asked)


@commands.command()
@click.argument("file", default="my-show.yaml")
@click.option("--columns", type=click.IntRange(1, 500), help="Cabinets side by side.")
@click.option("--rows", type=click.IntRange(1, 500), help="Cabinets one above the other.")
@click.option("--pixels", metavar="W x H px", help="Pixels of one cabinet, such as 240 x 240 px.")
@click.option("--rate", help="Frame rate, such as 59.94.")
@click.option("--length", help="Length of the show, such as 3 h.")
@click.option("--distance", help="From the units to the wall, such as 1.2 km.")
@click.option("--title", help="Title of the show.")
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
def new(file: str, columns: int | None, rows: int | None, force: bool, **known: str | None) -> int:
    """Begin a scenario of your own.

    Asks for the grid, and writes a short FILE with comments.
    """
    from sim.output import put_new
    from sim.scenario.loader import scenario_from
    from sim.scenario.starter import new_file

    columns, rows = grid_asked(columns, rows)
    text = new_file(rows, columns, **{name: said for name, said in known.items() if said})
    scenario_from(text, file)
    put_new(text, file, force)
    name = Path(file)
    tell(f"wrote {name}; next: staylit check {name}, then staylit compare {name}")
    return 0


commands.add_command(diagnose)
commands.add_command(proof)
commands.add_command(rates)
commands.add_command(rehearse)
commands.add_command(risk)
commands.add_command(slips)
