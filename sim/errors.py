"""Everything that can be wrong with what a person gave us, and the exit status it means.

In: where, what was found, what is allowed, the nearest name, what to do (texts).
Out: exceptions whose text is the finished message.
"""

from __future__ import annotations

from collections.abc import Iterable, Sized
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice

from sim.bounds import MOST_PROBLEMS, MOST_SAID
from sim.harmless import visible

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
        return "\n    ".join(map(_shown, (f"{self.where}: {self.found}", *tail)))


END_SAID = 200
"""Characters of a message too long that are kept of its end: what is wrong with the value."""


def _shown(part: str) -> str:
    """A part of a message on one line; of a long one the beginning and the end."""
    if len(part) > MOST_SAID:
        part = f"{part[: MOST_SAID - END_SAID]} ... {part[-END_SAID:]}"
    return visible(part)


class StaylitError(Exception):
    """Root of all errors that end in one message; `exit_status` goes to the shell."""

    exit_status = 2


class InputError(StaylitError):
    """Wrong usage or wrong input; carries every problem found, not only the first; of very many
    the first ones, and that there are more.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = few(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """What a worker process sends back: the problems, not the finished text."""
        return type(self), (self.problems,)


def few(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """As many as are told, and one more that says so if there are more."""
    found = tuple(islice(problems, MOST_PROBLEMS + 1))
    if len(found) <= MOST_PROBLEMS or MORE in found[-1].found:
        return found
    left = len(problems) - MOST_PROBLEMS if isinstance(problems, Sized) else 1
    where = found[0].where.partition(":")[0]
    return (*found[:-1], more_problems(where, left))


MORE = " more problem"


def more_problems(where: str, least: int) -> Problem:
    """That so many are not told, at least."""
    found = f"at least {least}{MORE}{'s' * (least != 1)}"
    return Problem(where, found, todo="correct these first")


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
