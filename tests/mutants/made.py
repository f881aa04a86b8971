"""Mutants of a file of sim/: one small mistake each, in one function.

In: a dotted module name. Out: `Mutant`s. What is changed, and how, is mutmut's choice (operators,
numbers, texts, arguments left out, None for a value, ...); docstrings, annotations, decorated
functions and what stands outside functions are left alone.
"""

from __future__ import annotations

import ast
import difflib
import importlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from typing import Any

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.file_mutation import MutationVisitor, OuterFunctionProvider, deep_replace
from mutmut.mutation.mutators import mutation_operators
from mutmut.mutation.pragma_handling import IgnoredCode

from tests.mutants.results import mark_of


@dataclass(frozen=True)
class Mutant:
    """`name`: module:function:number. `lines`: those of the statement that is changed. `source`:
    the whole function, changed; `change`: what of it differs, to be read by people.
    """

    name: str
    file: str
    lines: range
    source: str
    change: str

    @property
    def module(self) -> str:
        return self.name.split(":")[0]

    @property
    def mark(self) -> str:
        return mark_of(self.source)

    @property
    def function(self) -> str:
        return self.name.split(":")[1]


def mutants_of(module: str) -> list[Mutant]:
    """All mutants of a module, in the order of its text."""
    path = Path(str(importlib.import_module(module).__file__))
    text = path.read_text(encoding="utf-8")
    wrapper = MetadataWrapper(cst.parse_module(text))
    places = wrapper.resolve(PositionProvider)
    owners = wrapper.resolve(OuterFunctionProvider)
    visitor = MutationVisitor(mutation_operators, IgnoredCode(set(), set(), set()))
    wrapper.visit(visitor)
    names = dict(_functions(wrapper.module))
    statements = _statements(ast.parse(text))
    count: Counter[str] = Counter()
    found = []
    for mutation in visitor.mutations:
        owner = owners.get(mutation.original_node)
        if owner not in names or owner.decorators:
            continue
        name = names[owner]
        count[name] += 1
        line = places[mutation.original_node].start.line
        before = wrapper.module.code_for_node(owner)
        changed = deep_replace(owner, mutation.original_node, mutation.mutated_node)
        after = wrapper.module.code_for_node(changed)
        found.append(
            Mutant(
                f"{module}:{name}:{count[name]}",
                str(path),
                min((s for s in statements if line in s), key=len),
                after,
                _change(before, after),
            )
        )
    return found


def put_in(mutant: Mutant) -> None:
    """Make the mistake in this process, for whoever holds the function already."""
    module = importlib.import_module(mutant.module)
    scratch: dict[str, Any] = dict(vars(module))
    exec("from __future__ import annotations\n" + mutant.source, scratch)
    owner: Any = module
    *path, last = mutant.function.split(".")
    for step in path:
        owner = getattr(owner, step)
    function: FunctionType = vars(owner)[last]
    changed: FunctionType = scratch[last]
    function.__code__ = changed.__code__
    function.__defaults__ = changed.__defaults__
    function.__kwdefaults__ = changed.__kwdefaults__


def _functions(module: cst.Module) -> Iterator[tuple[cst.FunctionDef, str]]:
    """The functions and methods of a file, by name."""
    for node in module.body:
        if isinstance(node, cst.FunctionDef):
            yield node, node.name.value
        elif isinstance(node, cst.ClassDef):
            for each in node.body.body:
                if isinstance(each, cst.FunctionDef):
                    yield each, f"{node.name.value}.{each.name.value}"


def _statements(tree: ast.Module) -> list[range]:
    """The lines of each statement; of one that holds others, those of its head and its whole."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt):
            end = (node.end_lineno or node.lineno) + 1
            found.append(range(node.lineno, end))
            body = getattr(node, "body", None)
            if body and not isinstance(node, ast.FunctionDef | ast.ClassDef):
                found.append(range(node.lineno, max(body[0].lineno, node.lineno + 1)))
    return found


def _change(before: str, after: str) -> str:
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return "\n".join(line for line in list(lines)[2:] if not line.startswith("@@"))
