"""Inputs changed at random: as trees of YAML, as tables, as lines.

In: `random.Random`, texts to start from. Out: bytes. The same draws give the same bytes.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from functools import cache, partial
from random import Random
from typing import Any

import yaml

from tests.fuzz.spoils import encoded, mutated_bytes
from tests.fuzz.wild import CHARACTERS, KEYS, NUMBERS, TEXTS, UNITS

Tree = Any
"""Mappings, lists and texts, as the plain YAML reader gives them."""
Step = tuple[Any, Any]
"""Where a value stands: what holds it, and its key or number there."""


# ---- texts


def wild_text(draw: Random, old: str = "") -> str:
    """Something that might stand where `old` stood."""
    at = draw.randint(0, len(old))
    made: tuple[Callable[[], str], ...] = (
        partial(draw.choice, TEXTS),
        partial(_measured, draw),
        lambda: re.sub(r"[0-9]+(?:\.[0-9]+)?", lambda _: draw.choice(NUMBERS), old, count=1),
        lambda: re.sub(r"[0-9]", lambda _: f"{draw.randrange(10)}", old),
        lambda: re.sub(r"[a-z%]+", lambda _: draw.choice(UNITS), old, count=1),
        lambda: old[:at] + draw.choice(CHARACTERS) + old[at:],
        lambda: old * draw.choice((2, 3, 40)),
        lambda: old[:at],
    )
    return draw.choice(made)()


def _measured(draw: Random) -> str:
    return f"{draw.choice(NUMBERS)} {draw.choice(UNITS)}".strip()


# ---- trees


def _places(tree: Tree) -> Iterator[Step]:
    """Every place below the top."""
    items = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, item in [*items] if isinstance(tree, dict | list) else []:
        yield tree, key
        yield from _places(item)


def _copied(tree: Tree) -> Tree:
    if isinstance(tree, dict):
        return {key: _copied(item) for key, item in tree.items()}
    return [_copied(item) for item in tree] if isinstance(tree, list) else tree


def _scalar(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    old = at[0][at[1]]
    at[0][at[1]] = wild_text(draw, old if isinstance(old, str) else "")


def _spliced(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    """What stands elsewhere, of the same key where there is one."""
    alike = [each for each in pool if each[1] == at[1]]
    holder, key = draw.choice(alike if alike and draw.random() < 0.6 else pool)
    at[0][at[1]] = _copied(holder[key])


def _retyped(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    old = at[0][at[1]]
    values = [*old.values()] if isinstance(old, dict) else old if isinstance(old, list) else [old]
    texts = [each for each in values if isinstance(each, str)]
    made: list[Tree] = [
        values, {}, [], "", [[each] for each in values], dict.fromkeys(texts, "1"),
        {draw.choice(KEYS): old}, [old, old], draw.choice(TEXTS),
    ]  # fmt: skip
    at[0][at[1]] = _copied(draw.choice(made))


def _dropped(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    del at[0][at[1]]


def _repeated(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    holder, key = at
    count = draw.choice((1, 2, 8, 64, 300))
    for number in range(count):
        if isinstance(holder, list):
            holder.append(_copied(holder[key]))
        else:
            holder[f"{key}{number}"] = _copied(holder[key])


def _renamed(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    holder, key = at
    if isinstance(holder, dict):
        new = draw.choice([draw.choice(KEYS), wild_text(draw, str(key)), str(draw.choice(pool)[1])])
        holder[new] = holder.pop(key)


def _nested(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    made = at[0][at[1]]
    for _ in range(draw.choice((1, 2, 5, 11, 13, 80))):
        made = [made] if draw.random() < 0.5 else {draw.choice(KEYS): made}
    at[0][at[1]] = made


def _added(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    holder, key = draw.choice(pool)
    if isinstance(at[0], dict):
        at[0][str(key)] = _copied(holder[key])
    else:
        at[0].insert(draw.randint(0, len(at[0])), _copied(holder[key]))


def _swapped(draw: Random, at: Step, pool: Sequence[Step]) -> None:
    """Two values of one holder change places."""
    keys = [*at[0]] if isinstance(at[0], dict) else [*range(len(at[0]))]
    one, other = draw.choice(keys), draw.choice(keys)
    at[0][one], at[0][other] = at[0][other], at[0][one]


Change = Callable[[Random, Step, Sequence[Step]], None]
CHANGES: tuple[Change, ...] = (
    _scalar, _scalar, _scalar, _scalar, _spliced, _spliced, _retyped, _dropped, _repeated, _renamed,
    _nested, _added, _swapped,
)  # fmt: skip


def mutated_tree(draw: Random, seeds: Sequence[str]) -> bytes:
    """A file of YAML with one to four changes in its tree; now and then in its text as well."""
    tree, pool = _copied(_tree_of(draw.choice(seeds))), _pool(tuple(seeds))
    for _ in range(draw.choice((1, 1, 1, 1, 2, 3))):
        places = [*_places(tree)]
        if places:
            draw.choice(CHANGES)(draw, draw.choice(places), pool)
    text = _dumped(draw, tree)
    return mutated_bytes(draw, [text]) if draw.random() < 0.15 else encoded(text)


@cache
def _tree_of(text: str) -> Tree:
    return yaml.load(text, Loader=yaml.BaseLoader)


@cache
def _pool(seeds: tuple[str, ...]) -> tuple[Step, ...]:
    return tuple(each for seed in seeds for each in _places(_tree_of(seed)))


QUICK = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def _dumped(draw: Random, tree: Tree) -> str:
    how = {
        "default_flow_style": draw.choice((None, None, False, True)), "sort_keys": False,
        "allow_unicode": draw.random() < 0.7, "width": draw.choice((80, 10_000)),
    }  # fmt: skip
    try:
        return str(yaml.dump(tree, Dumper=QUICK, **how))
    except UnicodeEncodeError:  # half a character: only the slow one writes it
        return str(yaml.dump(tree, Dumper=yaml.SafeDumper, **how))


# ---- tables


def mutated_table(draw: Random, seeds: Sequence[str]) -> bytes:
    """A table with one to four changes in its cells, rows, columns; now and then in its text."""
    seed = draw.choice(seeds)
    mark = ";" if seed.partition("\n")[0].count(";") else ","
    rows = [*csv.reader(io.StringIO(seed), delimiter=mark)]
    for _ in range(draw.choice((1, 1, 1, 2, 3))):
        if rows and all(rows):
            draw.choice(TABLE_CHANGES)(draw, rows)
    out = io.StringIO()
    csv.writer(
        out, delimiter=draw.choice((mark, mark, mark, ",", ";")), lineterminator="\n"
    ).writerows(rows)
    return (
        mutated_bytes(draw, [out.getvalue()]) if draw.random() < 0.15 else encoded(out.getvalue())
    )


def _cell(draw: Random, rows: list[list[str]]) -> None:
    row = draw.choice(rows[1:] or rows)
    at = draw.randrange(len(row))
    row[at] = wild_text(draw, row[at])


def _other_cell(draw: Random, rows: list[list[str]]) -> None:
    row, other = draw.choice(rows), draw.choice(rows)
    row[draw.randrange(len(row))] = draw.choice(other)


def _row(draw: Random, rows: list[list[str]]) -> None:
    at = draw.randrange(len(rows))
    some: list[list[list[str]]] = [
        [],
        [rows[at]] * draw.choice((2, 50)),
        [rows[at][:-1]],
        [[*rows[at], "1"]],
    ]
    rows[at : at + 1] = [[*each] for each in draw.choice(some)]


def _column(draw: Random, rows: list[list[str]]) -> None:
    at, kind = draw.randrange(len(rows[0])), draw.randrange(3)
    for row in rows:
        if at < len(row) and kind == 0:
            del row[at]
        elif at < len(row) and kind == 1:
            row.append(row[at])
        elif at < len(row):
            row.insert(0, row.pop(at))


TABLE_CHANGES: tuple[Callable[[Random, list[list[str]]], None], ...] = (
    _cell, _cell, _cell, _cell, _other_cell, _row, _column,
)  # fmt: skip


# ---- lines


def mutated_lines(draw: Random, seeds: Sequence[str]) -> bytes:
    """Texts of one line each, with words and characters exchanged."""
    lines = [line for seed in seeds for line in seed.splitlines() if "|" in line]
    return encoded("\n".join(_line(draw, lines) for _ in range(draw.choice((1, 1, 1, 3)))))


def _line(draw: Random, lines: Sequence[str]) -> str:
    kind, _, said = draw.choice(lines).partition("|")
    words, others = said.split(" "), draw.choice(lines).partition("|")[2].split(" ")
    for _ in range(draw.choice((1, 1, 2, 3))):
        at = draw.randrange(len(words))
        words[at : at + 1] = draw.choice(
            (
                [],
                [words[at], words[at]],
                [draw.choice(others)],
                [wild_text(draw, words[at])],
                others[at:],
            )
        ) or [""]
    return f"{kind}|{' '.join(words)}".replace("\n", " ").replace("\r", " ")
