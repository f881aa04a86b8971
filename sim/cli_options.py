"""What several commands are asked, and how wrong usage is answered.

In: what click found. Out: decorators for commands, usage errors in our own form with the nearest
name, the width of text in characters.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from typing import Any, TypeVar

import click

from sim.errors import Problem, nearest_name, refuse

WIDEST, NARROWEST = 100, 60
SCENARIO = "SCENARIO is a file, or the name of one that comes with the program (first, river ...)."
F = TypeVar("F", bound=Callable[..., Any])


class Commands(click.Group):
    """The group of commands; a wrong name is answered with the nearest one."""

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            names = self.list_commands(ctx)
            near = nearest_name(args[0], names)
            raise refuse("staylit", f"no command {args[0]!r}", ", ".join(names), near)
        return super().resolve_command(ctx, args)


def usage_problem(error: click.UsageError) -> Problem:
    """A usage error in our form, with the nearest option."""
    where = error.ctx.command_path if error.ctx else "staylit"
    todo = f"see `{where} --help`"
    if isinstance(error, click.NoSuchOption):
        options = _options(error.ctx)
        near = nearest_name(error.option_name, options)
        return Problem(where, f"no option {error.option_name}", ", ".join(options), near, todo)
    return Problem(where, error.format_message().rstrip(".").replace("\n", " "), todo=todo)


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
        "--width", type=click.IntRange(NARROWEST, 400), help="Characters in a line of text."
    ),
)


def format_option(*formats: str) -> Callable[[F], F]:
    return click.option(
        "--format", "format", type=click.Choice(formats), default=formats[0], show_default=True,
        help="How the result is written.",
    )  # fmt: skip


report_format = format_option("text", "markdown", "json", "csv")


def text_width(width: int | None, output: str) -> int:
    """As asked; else as wide as the terminal, at most 100."""
    if width:
        return width
    if output:
        return WIDEST
    return min(max(shutil.get_terminal_size((WIDEST, 24)).columns, NARROWEST), WIDEST)
