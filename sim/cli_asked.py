"""What all commands on a scenario share: what was asked, the line of progress, the hand-over.

In: what click found. Out: frozen `Asked`, a result written where it was asked for, its status.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

import click

from sim.cli_options import REPORT_FORMATS, SUFFIXES, format_of, text_width

if TYPE_CHECKING:
    from sim.asked import Asked, Made
    from sim.executors import How


def asked_of(
    scenario: str, output: str, width: int | None, chosen: dict[str, str],
    forms: tuple[str, ...] = REPORT_FORMATS, modes: tuple[str, ...] = (),
) -> Asked:  # fmt: skip
    """What a command is asked for. Raises InputError where the output cannot be written."""
    from sim.asked import Asked
    from sim.scenario.loader import inputs_of
    from sim.shipped import find

    path = find(scenario)
    inputs = inputs_of(path) if output else (path,)
    not_an_input(output, inputs)
    more = {name: said for name, said in chosen.items() if name != "form"}
    form = chosen["form"] or format_of(output, forms)
    if form == "pdf":
        _may_be_printed(output)
    _fitting(output, form)
    wide = text_width(width, output)
    return Asked(path, inputs=inputs, width=wide, format=form, modes=modes, **more)


def not_an_input(output: str, inputs: Sequence[Path]) -> None:
    """Raises InputError for what cannot be written, and for the scenario or a file it names."""
    from sim.output import may_be_written

    may_be_written(output, inputs[:1])
    may_be_written(output, inputs[1:], called="a file that the scenario names")


def how_of(chosen: dict[str, Any], output: str) -> How:
    """How the work is carried out. Raises InputError where a journal cannot be written."""
    from sim.executors import How
    from sim.output import may_be_written

    workers, cluster = chosen.pop("workers") or 0, chosen.pop("cluster")
    checkpoint = chosen.pop("checkpoint", "")
    if workers and cluster:
        raise click.UsageError("--cluster has workers of its own: leave --workers out.")
    others = [Path(output)] if output else []
    may_be_written(checkpoint, others, "--checkpoint", "the output as well", whole=False)
    return How(workers, cluster, checkpoint)


def _fitting(output: str, form: str) -> None:
    """Raises InputError for a PDF in a file of another ending, and for anything else in a .pdf."""
    suffix = PurePath(output).suffix.lower()
    if suffix in SUFFIXES and (suffix == ".pdf") != (form == "pdf"):
        from sim.errors import refuse

        found, todo = f"{output}: {form} in a file of this ending", "name the file otherwise"
        raise refuse("--output", found, "an ending that fits --format", todo=todo)


def _may_be_printed(output: str) -> None:
    """Raises InputError, before anything is worked out, where no PDF can be made."""
    from sim.errors import refuse
    from sim.printing import browser

    if not output:
        found, todo = "a PDF is not written to a terminal", "add --output FILE.pdf"
        raise refuse("--format pdf", found, "a file that --output names", todo=todo)
    browser()


def hand_over(made: Made, output: str, asked: Asked) -> int:
    """Write the result; its exit status. Who wrote into a file hears of a status of 1, everybody of
    an interruption.
    """
    from sim.leaving import BROKEN_OFF, INTERRUPTED, tell
    from sim.output import put
    from sim.printing import printed

    result = printed(made.text) if asked.format == "pdf" else made.text
    put(result, output, asked.inputs)
    if output and made.status == 1:
        tell(f"wrote {output}, which says what is not met (exit status 1)")
    if made.status == INTERRUPTED:
        tell(f"{BROKEN_OFF}; {output or 'the result'} says what was known by then")
    return made.status


@contextmanager
def progress(doing: str, done: str = " done") -> Iterator[Callable[[str], None]]:
    """A line on standard error that tells what is done, only on a terminal."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda label: None
        return
    from rich.console import Console
    from rich.markup import escape

    console = Console(stderr=True)
    status = console.status(doing)
    try:
        status.start()
        yield lambda label: status.update(f"{doing}: {escape(label)}{done}")
    finally:
        with suppress(IndexError):  # an interruption may leave it half begun
            status.stop()
        console.show_cursor()
