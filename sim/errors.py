"""Everything that can be wrong with what a person gave us, and the exit status it means.

In: where, what was found, what is allowed, the nearest name, what to do (texts).
Out: exceptions whose text is the finished message.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

LONGEST_NAME, MOST_NAMES = 200, 1000
"""Beyond them no nearest name is looked for: the search would take longer than it helps."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake, in five parts; a part that does not apply is empty."""

    where: str
    found: str
    allowed: str = ""
    nearest: str = ""
    todo: str = ""

    def __str__(self) -> str:
        tail = [f"allowed: {self.allowed}"] if self.allowed else []
        tail += [f"nearest: {self.nearest}"] if self.nearest else []
        tail += [f"do: {self.todo}"] if self.todo else []
        return "\n    ".join(visible(part) for part in (f"{self.where}: {self.found}", *tail))


def visible(text: str) -> str:
    """The text on one line: what cannot be printed is written out, as `\\n` or `\\x1b`."""
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


class StaylitError(Exception):
    """Root of all errors that end in one message; `exit_status` goes to the shell."""

    exit_status = 2


class InputError(StaylitError):
    """Wrong usage or wrong input; carries every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """What a worker process sends back: the problems, not the finished text."""
        return type(self), (self.problems,)


def refuse(
    where: str, found: str, allowed: str = "", nearest: str = "", todo: str = ""
) -> InputError:
    """The error for a single problem, ready to be raised."""
    return InputError([Problem(where, found, allowed, nearest, todo)])


def nearest_name(wrong: str, names: Iterable[str]) -> str:
    """The valid name most like `wrong`, whatever the case of its letters, or an empty text."""
    if len(wrong) > LONGEST_NAME:
        return ""
    folded: dict[str, str] = {}
    for name in sorted(names)[:MOST_NAMES]:
        folded.setdefault(name.casefold(), name)
    return folded.get(next(iter(get_close_matches(wrong.casefold(), folded, 1, 0.4)), ""), "")
