"""The output that README.md shows: what stands behind a `<!-- shows: COMMAND -->` is a real run.

In: README.md. Out: its text with every such block made afresh. A command may end in `| head -N`.
"""

from __future__ import annotations

import re
import shlex
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from sim.cli import run

README = Path(__file__).parents[1] / "README.md"
WIDTH = ("--width", "100")
BLOCK = re.compile(
    r"^(<!-- shows: staylit (?P<words>.*?)(?: \| head -(?P<most>\d+))? -->\n)"
    r"(?:```text\n.*?^```\n)?",
    re.MULTILINE | re.DOTALL,
)


def shown(words: str, most: int | None) -> str:
    """What a command prints at 100 columns, its first `most` lines."""
    printed = StringIO()
    with redirect_stdout(printed):
        status = run([*shlex.split(words), *WIDTH])
    if status not in (0, 1):
        raise RuntimeError(f"staylit {words} ends with {status}")
    lines = printed.getvalue().rstrip().splitlines()
    cut = lines if most is None or len(lines) <= most else [*lines[:most], "..."]
    return "\n".join(cut)


def refreshed(text: str) -> str:
    """The page with every shown block as it is today."""

    def block(match: re.Match[str]) -> str:
        most = int(match["most"]) if match["most"] else None
        command = f"$ staylit {match['words']}" + (f" | head -{most}" if most else "")
        return f"{match[1]}```text\n{command}\n{shown(match['words'], most)}\n```\n"

    return BLOCK.sub(block, text)
