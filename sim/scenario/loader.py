"""The only file that knows YAML: from a file to a `Scenario`, with a line for every mistake.

In: a path, or text. Out: a `Document` (a tree of mappings, lists and *texts*, each with its
line) and from it a `Scenario`. Nothing is guessed from how a scalar looks: `on`, `21:40` and
`59.94` stay texts until the schema converts them. Refused: duplicate keys, tags, merge keys,
several documents, control characters, too much of anything. No units; lines count from 1.
"""

from __future__ import annotations

import re
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import yaml

from sim.bounds import MOST_LEVELS, MOST_VALUES
from sim.errors import InputError, Problem, refuse
from sim.scenario.document import Document, Row, Table, Text, Tree, Where, place
from sim.scenario.files import SPLIT, read_text
from sim.scenario.included import NAMING, with_files
from sim.scenario.matches import fitting
from sim.scenario.scenario import Scenario, scenario_of

__all__ = ["inputs_of", "load", "read", "read_text", "scenario_from"]

PLAIN_WORDS = {
    "mapping values are not allowed here": "a second colon on one line, or a line indented too far",
    "found character '\\t' that cannot start any token": "a tab used for indentation",
    "could not find expected ':'": "a line without its colon",
    "expected <block end>, but found": "a line that is indented differently from its neighbours",
    "expected ',' or '}'": "a { without its }, or a comma missing within",
    "expected ',' or ']'": "a [ without its ], or a comma missing within",
    "found unexpected end of stream": "a quote that is never closed",
    "found undefined alias": "a * name for which no & name stands above",
    "found unknown escape character": "a backslash within double quotes",
}
"""What the YAML reader says, and what a person who wrote the line needs to hear."""


def load(path: str | Path) -> Scenario:
    """The scenario in a file. Raises InputError with every problem found."""
    return scenario_from(read_text(path), str(path))


def scenario_from(text: str, name: str = "scenario") -> Scenario:
    """The scenario in a text; `name` stands in the messages. Raises InputError."""
    document = read(text, name)
    made = scenario_of(document.tree, document.where, document.problems)
    return with_files(fitting(made, document.where), name, read)


def inputs_of(path: Path) -> tuple[Path, ...]:
    """A scenario's file, and the files that it names. What comes through a pipe, or cannot be read,
    names none: whoever loads it says why.
    """
    if not path.is_file():
        return (path,)
    try:
        tree = read(read_text(path), str(path)).tree
    except InputError:
        return (path,)
    said = (tree.get(key, Row()) for key in NAMING) if isinstance(tree, Table) else ()
    lists = ([each] if isinstance(each, Text) else each for each in said)
    return (path, *(path.parent / each for of in lists for each in of if isinstance(each, Text)))


def read(text: str, name: str = "scenario") -> Document:
    """The tree of a text. Raises InputError if it is no YAML, empty, too deep or too much."""
    try:
        reader = _Reader(name, yaml.parse(text, Loader=yaml.SafeLoader))
        tree = reader.document()
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        raise refuse(
            place(name, line), f"a character that cannot be printed (U+{_code(error):04X})",
            "printable text", todo="delete it",
        ) from None  # fmt: skip
    except yaml.MarkedYAMLError as error:
        raise _unreadable(name, error) from None
    except (ValueError, OverflowError):
        raise _no_character(name, text) from None
    return Document(name, tree, tuple(reader.problems))


def _no_character(name: str, text: str) -> InputError:
    """An escape within double quotes for a character that Unicode does not have."""
    found = next((e for e in ESCAPED.finditer(text) if int(e[1], 16) > sys.maxunicode), None)
    line = text.count("\n", 0, found.start()) + 1 if found else 1
    what = f"{found[0]}, which is no character" if found else "an escape that is no character"
    return refuse(
        place(name, line), what, "\\U00000000 to \\U0010FFFF", todo="correct or delete it"
    )


ESCAPED = re.compile(r"\\U([0-9A-Fa-f]{8})")


def _code(error: yaml.reader.ReaderError) -> int:
    return error.character if isinstance(error.character, int) else ord(error.character)


def _unreadable(name: str, error: yaml.MarkedYAMLError) -> InputError:
    unclosed = "end of stream" in (error.problem or "")
    mark = (error.context_mark if unclosed else None) or error.problem_mark or error.context_mark
    said = f"{error.context or ''} {error.problem or ''}"
    found = next((ours for theirs, ours in PLAIN_WORDS.items() if theirs in said), "")
    return refuse(
        place(name, mark.line + 1 if mark else 1),
        f"not YAML: {found or 'this line cannot be read'}",
        "key: value, lists with -, {...} and [...], indented by spaces",
        todo="mend this line or the one above it; put quotes round a text that holds : # { or [",
    )


class _Reader:
    """Builds the tree from the events of the YAML parser, counting as it goes."""

    def __init__(self, name: str, events: Iterator[yaml.Event]) -> None:
        self.name = name
        self.events = events
        self.problems: list[Problem] = []
        self.anchors: dict[str, tuple[Tree, int, int] | None] = {}
        self.values = 0

    def document(self) -> Tree:
        """The one document of the stream."""
        next(self.events)
        if isinstance(next(self.events), yaml.StreamEndEvent):
            raise refuse(
                self.name, "the file is empty", "a scenario", todo="start from `staylit new`"
            )
        tree = self.value(next(self.events), 0)
        if tree == "":
            raise refuse(
                self.name, "the file is empty", "a scenario", todo="start from `staylit new`"
            )
        next(self.events)
        after = next(self.events)
        if not isinstance(after, yaml.StreamEndEvent):
            self.complain(
                _line(after),
                (),
                "a second document",
                "one scenario in one file",
                "delete the --- line, or put the second scenario into a file of its own",
            )
        return tree

    def complain(self, line: int, path: Where, found: str, allowed: str, todo: str) -> None:
        where = place(self.name, line, path)
        self.problems.append(Problem(where, found, allowed, todo=todo))

    def value(self, event: yaml.Event, depth: int, path: Where = ()) -> Tree:
        """The tree that begins with this event."""
        line = _line(event)
        if depth > MOST_LEVELS:
            raise refuse(
                place(self.name, line),
                f"more than {MOST_LEVELS} levels, one within the other",
                f"at most {MOST_LEVELS}",
                todo="no part of a scenario lies so deep: check brackets",
            )
        anchor: str | None = getattr(event, "anchor", None)
        if isinstance(event, yaml.AliasEvent):
            return self.alias(anchor or "", line, depth, path)
        before = self.values
        self.count(1, line)
        tag = getattr(event, "tag", None)
        if tag is not None:
            shown = str(tag).replace("tag:yaml.org,2002:", "!!")
            self.complain(line, path, f"a tag ({shown})", "no tags", "delete it: types are known")
        if anchor:
            self.anchors[anchor] = None
        tree = self.bare(event, line, depth, path)
        if anchor:
            self.anchors[anchor] = (tree, self.values - before, _height(tree))
        return tree

    def bare(self, event: yaml.Event, line: int, depth: int, path: Where) -> Tree:
        if isinstance(event, yaml.ScalarEvent):
            return self.text(event, line, path)
        if isinstance(event, yaml.SequenceStartEvent):
            return self.row(line, depth, path)
        return self.table(line, depth, path)

    def count(self, more: int, line: int) -> None:
        self.values += more
        if self.values > MOST_VALUES:
            raise refuse(
                place(self.name, line),
                f"more than {MOST_VALUES} values, aliases counted in full",
                f"at most {MOST_VALUES}",
                todo=SPLIT,
            )

    def alias(self, anchor: str, line: int, depth: int, path: Where) -> Tree:
        if anchor not in self.anchors:
            raise refuse(
                place(self.name, line, path),
                f"*{anchor}, but no &{anchor} stands above it",
                "aliases of what stands above",
                todo=f"write &{anchor} where it is first used",
            )
        known = self.anchors[anchor]
        if known is None:
            raise refuse(
                place(self.name, line, path),
                f"*{anchor} stands within &{anchor} itself",
                "aliases of what is complete",
                todo="write the value out",
            )
        tree, size, height = known
        self.count(size, line)
        if depth + height > MOST_LEVELS:
            raise refuse(
                place(self.name, line, path),
                f"*{anchor} makes more than {MOST_LEVELS} levels",
                f"at most {MOST_LEVELS}",
                todo="write the value out",
            )
        return tree

    def text(self, event: yaml.ScalarEvent, line: int, path: Where) -> Text:
        made = Text(unicodedata.normalize("NFC", event.value.strip()))
        made.line = line
        bad = next(
            (c for c in made if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")), ""
        )
        if bad:
            self.complain(
                line,
                path,
                f"a control character (U+{ord(bad):04X}) in a text",
                "printable text",
                "delete it",
            )
        return made

    def row(self, line: int, depth: int, path: Where) -> Row:
        made = Row()
        made.line = line
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            made.append(self.value(event, depth + 1, (*path, len(made))))
        return made

    def table(self, line: int, depth: int, path: Where) -> Table:
        made = Table()
        made.line = line
        made.key_lines = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self.value(event, depth + 1, path)
            at = _line(event)
            within = (*path, str(key)) if isinstance(key, Text) else path
            item = self.value(next(self.events), depth + 1, within)
            if self.usable(key, made, at, path):
                made[str(key)], made.key_lines[str(key)] = item, at
        return made

    def usable(self, key: Tree, made: Table, line: int, path: Where) -> bool:
        if not isinstance(key, Text):
            self.complain(
                line, path, "a key that is no text", "a text", "write a plain name as key"
            )
        elif key == "<<":
            self.complain(
                line,
                path,
                "a merge key (<<)",
                "plain keys; & and * for whole values",
                "write the lines out, or let *name stand for the whole value",
            )
        elif key in made:
            self.complain(
                line,
                (*path, str(key)),
                f"{key!s} a second time; first in line {made.key_lines[key]}",
                "each key once",
                "delete one of the two, or rename it",
            )
        else:
            return True
        return False


def _line(event: yaml.Event) -> int:
    """The line that an event begins on, from 1."""
    return event.start_mark.line + 1 if event.start_mark else 1


def _height(tree: Tree) -> int:
    if isinstance(tree, Text):
        return 0
    items = tree.values() if isinstance(tree, Table) else tree
    return 1 + max(map(_height, items), default=0)
