"""The command `staylit rates`: failure rates from an owner's own records.

In: arguments. Out: the report, and with --file a file of the rates that a scenario may name under
`rate_files`; an exit status. No file is ever written over without --force, nor over the records.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import click

from sim.cli_options import (
    REPORT_FORMATS,
    Command,
    format_of,
    output_options,
    report_format,
    text_width,
)
from sim.errors import refuse

EPILOG = "RECORDS is a table (CSV) with a row for each thing, period and fault mode: see README.md."
TABLE = "the table of records itself"


@click.command(cls=Command, epilog=EPILOG)
@click.argument("records")
@click.option("--file", default="", metavar="FILE", help="Also write the rates for scenarios.")
@click.option("--force", is_flag=True, help="Write over a --file that is there already.")
@report_format
@output_options
def rates(
    records: str, file: str, force: bool, form: str | None, output: str, width: int | None
) -> int:
    """Work out failure rates from your own records.

    Each with its 90 % interval, beside the placeholder that it may replace.
    """
    from sim import commands as do
    from sim.asked import Asked
    from sim.leaving import tell
    from sim.output import put, put_new

    path = Path(records)
    _check_targets(path, file, output)
    form = form or format_of(output, REPORT_FORMATS)
    made, text = do.rates(Asked(path, width=text_width(width, output), format=form))
    if file:
        put_new(text, file, force)
        name = file if re.fullmatch(r"[\w./-]+", file) else json.dumps(file)
        tell(f"wrote {name}; next: name it in a scenario, as rate_files: [{name}]")
    put(made.text, output, [path])
    return made.status


def _check_targets(path: Path, file: str, output: str) -> None:
    """Neither result may be written over the records, nor one over the other."""
    from sim.output import may_be_written, same_file

    may_be_written(output, [path], called=TABLE)
    may_be_written(file, [path], "--file", TABLE)
    if file and output and same_file(Path(file), Path(output)):
        raise refuse("--file", f"{file} is also --output", "two files", todo="name another")
