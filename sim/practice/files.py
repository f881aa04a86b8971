"""Drill files of a trainer and script files of acts, as they are written: texts with their places.

In: paths of YAML files. Out: frozen `DrillFile` and lists of (text, place in the file); everything
is a text still. Raises InputError with every problem found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sim.bounds import MOST_ACTS
from sim.errors import InputError, Problem, nearest_name, refuse
from sim.scenario.document import Document, Row, Table, Text, Tree, Where
from sim.scenario.loader import read, read_text

Said = tuple[str, str]
"""A text, and its place in the file."""
TEXTS = ("title", "scenario", "group", "topology", "begin", "until", "place", "goal")
LISTS = ("faults", "fails")
KEYS = (*TEXTS, *LISTS, "spares", "hints")
MUST = ("title", "faults")


@dataclass(frozen=True, slots=True)
class DrillFile:
    """A drill as written. `said` by key; `spares` by type; `hints`: (after, text)."""

    name: str
    said: Mapping[str, Said] = field(default_factory=dict)
    faults: tuple[Said, ...] = ()
    fails: tuple[Said, ...] = ()
    spares: tuple[tuple[str, Said], ...] = ()
    hints: tuple[tuple[Said, Said], ...] = ()

    def text(self, key: str) -> str:
        """What is said under a key, or an empty text."""
        return self.said.get(key, ("", ""))[0]

    def where(self, key: str) -> str:
        """The place of a key that is said, or the file."""
        return self.said.get(key, ("", self.name))[1]


def read_drill(path: Path) -> DrillFile:
    """The drill in a file."""
    document = _document(path)
    tree = _table(document, (), document.tree, "a drill")
    problems = [*_unknown(document, (), tree, KEYS), *_missing(document, tree)]
    problems += _not_texts(document, tree)
    if problems:
        raise InputError(problems)
    return DrillFile(
        name=document.name,
        said={key: (str(tree[key]), document.where((key,))) for key in TEXTS if key in tree},
        faults=tuple(_texts(document, tree, "faults")),
        fails=tuple(_texts(document, tree, "fails")),
        spares=tuple(_spares(document, tree)),
        hints=tuple(_hints(document, tree)),
    )


def read_script(path: Path) -> tuple[Said, ...]:
    """The acts in a script file, in order."""
    document = _document(path)
    tree = _table(document, (), document.tree, "a script")
    if problems := [*_unknown(document, (), tree, ("acts",))]:
        raise InputError(problems)
    return tuple(_texts(document, tree, "acts"))


def _document(path: Path) -> Document:
    document = read(read_text(path), str(path))
    if document.problems:
        raise InputError(document.problems)
    return document


def _table(document: Document, path: Where, tree: Tree, what: str) -> Table:
    if not isinstance(tree, Table):
        raise refuse(
            document.where(path),
            f"is no {what.rsplit(maxsplit=1)[-1]}",
            f"{what}: keys with values",
        )
    return tree


def _unknown(
    document: Document, path: Where, tree: Table, known: tuple[str, ...]
) -> Iterator[Problem]:
    for key in (key for key in tree if key not in known):
        where, near = document.where((*path, key)), nearest_name(key, known)
        yield Problem(where, f"no such key {key!r}", ", ".join(known), near, "correct or delete it")


def _missing(document: Document, tree: Table) -> Iterator[Problem]:
    for key in (key for key in MUST if key not in tree):
        yield Problem(document.where(()), f"says no {key}", f"a drill with {' and '.join(MUST)}")


def _not_texts(document: Document, tree: Table) -> Iterator[Problem]:
    for key in TEXTS:
        if key in tree and not (isinstance(tree[key], Text) and tree[key]):
            yield Problem(document.where((key,)), f"{key} is no text", "one text")


def _texts(document: Document, tree: Table, key: str) -> Iterator[Said]:
    """The texts of a list; one text stands for a list of one."""
    found = tree.get(key, Row())
    items = [found] if isinstance(found, Text) else found
    if not isinstance(items, list):
        raise refuse(document.where((key,)), f"{key} is no list", "a list of texts")
    if len(items) > MOST_ACTS:
        todo = "leave out what is not needed"
        raise refuse(
            document.where((key,)), f"{len(items)} {key}", f"at most {MOST_ACTS}", "", todo
        )
    for number, item in enumerate(items):
        where = document.where((key, number) if items is found else (key,))
        if not isinstance(item, Text) or not item:
            raise refuse(where, "is no text", "a text", todo="put it in quotes")
        yield str(item), where


def _spares(document: Document, tree: Table) -> Iterator[tuple[str, Said]]:
    if "spares" in tree:
        for kit, count in _table(document, ("spares",), tree["spares"], "a mapping").items():
            if not isinstance(count, Text):
                raise refuse(document.where(("spares", kit)), "is no number", "a whole number")
            yield kit, (str(count), document.where(("spares", kit)))


def _hints(document: Document, tree: Table) -> Iterator[tuple[Said, Said]]:
    items = tree.get("hints", Row())
    if not isinstance(items, Row) or len(items) > MOST_ACTS:
        allowed = f"a list of at most {MOST_ACTS} {{after, text}}"
        raise refuse(document.where(("hints",)), "hints is no such list", allowed)
    for number, item in enumerate(items):
        path: Where = ("hints", number)
        hint = _table(document, path, item, "a hint")
        if problems := [*_unknown(document, path, hint, ("after", "text"))]:
            raise InputError(problems)
        said = [hint.get("after", ""), hint.get("text", "")]
        if not all(isinstance(each, Text) and each for each in said):
            allowed = "{after: 30 s, text: look at the relay unit}"
            raise refuse(document.where(path), "a hint that is not whole", allowed)
        after, text = ((str(each), document.where(path)) for each in said)
        yield after, text
