"""What several commands are asked, and how wrong usage is answered.

In: what click found. Out: decorators for commands, usage errors in our own form with the nearest
name, the width of text in characters.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Callable, Sequence
from math import isnan
from pathlib import PurePath
from typing import Any, TypeVar

import click

from sim.errors import Problem, StaylitError, nearest_name, refuse

WIDEST, NARROWEST = 100, 60
SCENARIO = "SCENARIO is a file, or the name of one that comes with the program (first, river ...)."
WORKERS = "Processes at most; default: cores."
CLUSTER = (
    "Workers of a Dask scheduler instead, such as tcp://127.0.0.1:8786 (trusted networks only)."
)
CHECKPOINT = "Keep what is done in this file, and go on from there if it was cut off."
F = TypeVar("F", bound=Callable[..., Any])


class Command(click.Command):
    """A command whose usage errors always say which command they are about."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            error.ctx = error.ctx or ctx
            raise


class Commands(click.Group):
    """The group of commands; a wrong name is answered with the nearest one, none with the help."""

    command_class = Command

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not args and not ctx.resilient_parsing:
            raise StaylitError(ctx.get_help())
        return super().parse_args(ctx, args)

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            names = self.list_commands(ctx)
            near = nearest_name(args[0].lower(), names)
            raise refuse(
                "staylit", f"no command {args[0]!r}", ", ".join(names), near, "see `staylit --help`"
            )
        return super().resolve_command(ctx, args)


class Number(click.FloatRange):
    """A number in a range; what is no number at all is refused like one out of range."""

    def convert(self, value: Any, param: Any, ctx: click.Context | None) -> Any:
        made = super().convert(value, param, ctx)
        if isnan(made):
            self.fail("nan is no number", param, ctx)
        return made


def usage_problem(error: click.UsageError) -> Problem:
    """A usage error in our form: what is allowed there, and the nearest to what was written."""
    where = error.ctx.command_path if error.ctx else "staylit"
    todo = f"see `{where} --help`"
    found = error.format_message().rstrip(".").replace("\n", " ")
    if isinstance(error, click.NoSuchOption):
        options = _options(error.ctx)
        near = nearest_name(error.option_name.lower(), options)
        return Problem(where, f"no option {error.option_name}", ", ".join(options), near, todo)
    if isinstance(error, click.BadOptionUsage):
        return Problem(where, found, _values(_named(error.ctx, error.option_name)), todo=todo)
    if isinstance(error, click.MissingParameter):
        return Problem(where, found, _values(error.param), todo=todo)
    if isinstance(error, click.BadParameter):
        return _bad_value(error, where, todo)
    return Problem(where, found, _usage(error.ctx), todo=todo)


def _bad_value(error: click.BadParameter, where: str, todo: str) -> Problem:
    """A value that the option does not take."""
    name = error.param.opts[-1] if error.param else where
    choices = getattr(error.param.type, "choices", ()) if error.param else ()
    wrong = re.match(r"'([^']*)'", error.message)
    near = nearest_name(wrong[1].lower(), choices) if wrong and choices else ""
    said = error.message.rstrip(".")
    said = f"{wrong[0]} is not one of its values" if wrong and choices else said
    found = re.match(r"(\S+) is not in the range|('.*') is not a valid", said, re.DOTALL)
    said = f"{found[1] or found[2]} is not taken" if found else said
    return Problem(f"{where} {name}", said, _values(error.param), near, todo)


VALUES = {
    "scenario": "the path of a scenario file, or the name of one that comes with the program",
    "records": "the path of a table of your own records (CSV)",
    "item": "a timing, an equipment type, a thing, a route, a circuit, a limit, or a word",
    "fault": 'a mode, a thing and when, such as "dead main/unit-a at 5 s for 2 s"',
    "fails": "the name of a selector, or a pattern with *",
    "seen": 'a place and how it looks, such as "main dark"',
    "reports": 'what a unit or link reports, such as "port NAME: link no"',
    "sheet": "the path of a filled test sheet (CSV)",
    "begins": 'a date and a time, such as "2026-05-01 20:00"',
    "since": 'a time such as "30 s", or start',
    "group": "the name of a wall group",
    "topology": "the label of a topology under `offer:` or `against:`",
    "precision": "a part of the value between 0 and 1, such as 0.01",
    "output": "the name of a file, such as report.md",
    "cluster": "the address of a scheduler, such as tcp://127.0.0.1:8786",
    "checkpoint": "the name of a file, such as risk.journal",
    "degraded": 'a fault such as "dead main/unit-b before the show"',
    "drill": "the path of a drill file (YAML), or the name of one that comes with the program",
    "record": "the name of a file, such as mine.yaml",
    "results": "the name of a file, such as my-drills.csv",
    "date": "a day such as 2026-11-27",
    "mended_after": "a number of hours above 0, 1000000 at most",
    "pace": "how many times as fast as in reality, from 0.1 to 1000",
    "write_drill": "the name of a file, such as my-drill.yaml",
    "script": "the path of a script file (YAML): acts, a list of texts",
}


def _values(parameter: click.Parameter | None) -> str:
    """What may be written for an argument or an option."""
    if parameter is None:
        return ""
    if isinstance(parameter.type, click.Choice):
        return ", ".join(parameter.type.choices)
    if isinstance(parameter.type, click.IntRange):
        return f"a whole number from {parameter.type.min} to {parameter.type.max}"
    if getattr(parameter, "is_flag", False):
        return f"{parameter.opts[-1]} alone, without a value"
    return VALUES.get(parameter.name or "", getattr(parameter, "help", None) or "")


def _named(ctx: click.Context | None, option: str) -> click.Parameter | None:
    parameters = ctx.command.get_params(ctx) if ctx else []
    return next((each for each in parameters if option in each.opts), None)


def _usage(ctx: click.Context | None) -> str:
    return " ".join(ctx.command.collect_usage_pieces(ctx)) if ctx else ""


def _options(ctx: click.Context | None) -> list[str]:
    parameters = ctx.command.get_params(ctx) if ctx else []
    return [name for each in parameters for name in each.opts if name.startswith("--")]


def _several(*options: Callable[[F], F]) -> Callable[[F], F]:
    def put(function: F) -> F:
        for option in reversed(options):
            function = option(function)
        return function

    return put


scenario_argument = click.argument("scenario")
group_option = click.option("--group", default="", help="Only this wall group.")
topology_option = click.option(
    "--topology", default="", metavar="LABEL", help="This topology instead of the one offered."
)
output_options = _several(
    click.option("--output", default="", metavar="FILE", help="Write into a file."),
    click.option(
        "--width",
        type=click.IntRange(NARROWEST, 400),
        help="Characters in a line of text; default: as the terminal, 100 at most.",
    ),
)


work_options = _several(
    click.option("--workers", type=click.IntRange(1, 256), help=WORKERS),
    click.option("--cluster", default="", metavar="ADDRESS", help=CLUSTER),
)
checkpoint_option = click.option("--checkpoint", default="", metavar="FILE", help=CHECKPOINT)


REPORT_FORMATS = ("text", "markdown", "json", "csv")
PAGE_FORMATS = (*REPORT_FORMATS, "html", "pdf")
"""What a report with a page of its own comes in."""
DRAWN_FORMATS = ("svg", "graphml", "json")
SUFFIXES = {
    ".txt": "text", ".md": "markdown", ".json": "json", ".csv": "csv", ".svg": "svg",
    ".graphml": "graphml", ".html": "html", ".pdf": "pdf",
}  # fmt: skip


def format_option(*formats: str) -> Callable[[F], F]:
    return click.option(
        "--format", "form", type=click.Choice(formats),
        help=f"How the result is written; default: as the FILE of --output ends, or {formats[0]}.",
    )  # fmt: skip


report_format = format_option(*REPORT_FORMATS)
paper_option = click.option(
    "--paper", type=click.Choice(("a4", "letter")), default="a4", show_default=True,
    help="For pdf: the size of its pages.",
)  # fmt: skip
page_format = _several(format_option(*PAGE_FORMATS), paper_option)


def format_of(output: str, formats: Sequence[str]) -> str:
    """The format that the name of a file asks for; the first one if it has no ending.

    Raises InputError for an ending of a format that the command cannot write, or of none: nobody
    who names a file so means text.
    """
    suffix = PurePath(output).suffix.lower()
    meant = SUFFIXES.get(suffix, "" if ENDING.fullmatch(suffix) else formats[0])
    if meant not in formats:
        ends = [end for end, form in SUFFIXES.items() if form in formats]
        found = f"{output}: {meant or suffix} is not written here"
        near = "" if meant else nearest_name(suffix, ends)
        todo = "name the file otherwise, or say --format"
        raise refuse("--output", found, ", ".join(ends), near, todo)
    return meant


ENDING = re.compile(r"\.[a-z][a-z0-9]*", re.ASCII)
"""What is meant as an ending; not the number in `report.2`."""


def text_width(width: int | None, output: str) -> int:
    """As asked; else as wide as the terminal, at most 100."""
    if width:
        return width
    if output:
        return WIDEST
    return min(max(shutil.get_terminal_size((WIDEST, 24)).columns, NARROWEST), WIDEST)


def grid_asked(columns: int | None, rows: int | None) -> tuple[int, int]:
    """What was not said is asked for, on a terminal."""
    if (columns is None or rows is None) and not (sys.stdin and sys.stdin.isatty()):
        raise refuse(
            "staylit new", "the grid is not said", "--columns N --rows N",
            todo="say both, or run it on a terminal, where it asks",
        )  # fmt: skip
    while columns is None:
        said = click.prompt("Cabinets side by side (columns), or both as 12 x 5", err=True)
        columns, both = _counts(said, rows is None)
        rows = both or rows
    while rows is None:
        rows, _ = _counts(click.prompt("Cabinets one above the other (rows)", err=True), False)
    return columns, rows


def _counts(said: str, both: bool) -> tuple[int | None, int | None]:
    """One number, or columns and rows where `both` may be said; for anything else None, and why."""
    found = GRID.fullmatch(said.strip())
    numbers = [int(each) for each in found.groups() if each] if found else []
    if 1 <= len(numbers) <= 1 + both and all(1 <= number <= 500 for number in numbers):
        return numbers[0], (numbers[1] if len(numbers) > 1 else None)
    allowed = "a whole number from 1 to 500" + (", or two as 12 x 5" if both else "")
    click.echo(str(Problem("staylit new", f"{said!r} is not taken", allowed)), err=True)
    return None, None


GRID = re.compile(r"([0-9]{1,4})(?:\s*(?:x|\u00d7|by|,|\s)\s*([0-9]{1,4}))?", re.ASCII)
