"""From what pydantic found wrong to messages in five parts; its own words never reach a person.

In: a `ValidationError`, the model, and where each path stands in the file. Out: `Problem`s in
the order of the file's paths, and the paths themselves.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from sim.bounds import MOST_PROBLEMS
from sim.errors import Problem, more_problems, nearest_name
from sim.rig.kit import TIMINGS
from sim.scenario.fields import FieldError

Path = tuple[str | int, ...]
Place = Callable[[Path], str]

SHAPES = {
    "model_type": "a mapping of keys",
    "model_attributes_type": "a mapping of keys",
    "dict_type": "a mapping of names",
    "tuple_type": "a list",
    "list_type": "a list",
    "string_type": "one text",
}
"""What should have stood there, by pydantic's name of the error."""


def paths_of(error: ValidationError) -> list[Path]:
    """Where each thing that pydantic found lies in the file."""
    return [_path(found["loc"]) for found in error.errors(include_url=False)]


def problems_of(error: ValidationError, model: type[BaseModel], place: Place) -> list[Problem]:
    """Each thing that pydantic found, in five parts; at most one more than a report holds."""
    found = error.errors(include_url=False)[: MOST_PROBLEMS + 1]
    return [_problem(dict(each), model, place) for each in found]


def reported(found: Iterable[Problem], total: int, place: Place) -> list[Problem]:
    """The problems once each in the order of the file; of very many only the first ones."""
    told = sorted(dict.fromkeys(found), key=by_line)
    if len(told) <= MOST_PROBLEMS:
        return told
    more = max(total, len(told)) - MOST_PROBLEMS
    return [*told[:MOST_PROBLEMS], more_problems(place(()), more)]


def by_line(problem: Problem) -> tuple[int, str]:
    """A key that puts problems in the order of the file."""
    found = re.search(r":(\d+)(?::|$)", problem.where)
    return (int(found[1]) if found else 0, problem.where)


def _path(loc: tuple[int | str, ...]) -> Path:
    return tuple(step for step in loc if step != "[key]")


def _problem(found: dict[str, Any], model: type[BaseModel], place: Place) -> Problem:
    path = _path(found["loc"])
    cause = found.get("ctx", {}).get("error")
    if isinstance(cause, FieldError):
        return Problem(place(path), cause.found, *cause.hints(), cause.todo)
    if found["type"] == "missing":
        return _missing(path, model, place)
    if found["type"] == "extra_forbidden":
        return _unknown(path, model, place)
    expected = SHAPES.get(found["type"], "something else")
    return Problem(
        place(path),
        f"{_seen(found['input'])} where {expected} should stand",
        expected,
        todo=f"write {expected}" if expected != "something else" else "see the example scenarios",
    )


def _seen(value: object) -> str:
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list | tuple):
        return "a list"
    return f"{value!s:.60}" if value else "nothing after the colon"


def _missing(path: Path, model: type[BaseModel], place: Place) -> Problem:
    info = _fields(_model_at(model, path[:-1])).get(str(path[-1]))
    example = info.examples[0] if info and info.examples else "..."
    return Problem(
        place(path[:-1]),
        f"{path[-1]} is missing",
        (info.description or "") if info else "",
        todo=f"add {path[-1]}: {example}",
    )


def _unknown(path: Path, model: type[BaseModel], place: Place) -> Problem:
    fields, key = _fields(_model_at(model, path[:-1])), str(path[-1])
    allowed = ", ".join(fields)
    below = [name for name, info in fields.items() if key in _keys_below(name, info)]
    if below:
        todo = f"write it under {' or '.join(f'{name}:' for name in below)}"
        return Problem(place(path), f"unknown key {key}", allowed, f"{below[0]}.{key}", todo)
    near = nearest_name(key, list(fields))
    todo = f"rename it to {near}, or delete it" if near else "delete it"
    return Problem(place(path), f"unknown key {key}", allowed, near, todo)


def _keys_below(name: str, info: FieldInfo) -> Collection[str]:
    """The keys of an entry, or of the timings, that a field holds; none of a mapping of names."""
    if name == "timings":
        return TIMINGS
    kind = _unwrapped(info.annotation)
    return _fields(kind) if _is_model(kind) else ()


def _fields(model: type[BaseModel] | None) -> dict[str, FieldInfo]:
    """The fields of a model by the keys that people write."""
    if model is None:
        return {}
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel] | None:
    here: Any = model
    for step in path:
        info = _fields(here).get(str(step)) if _is_model(here) else None
        here = info.annotation if info else _inside(here)
        here = _unwrapped(here)
    return here if _is_model(here) else None


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _inside(kind: Any) -> Any:
    """What a mapping or a list holds."""
    held: Iterable[Any] = get_args(kind)
    return [arg for arg in held if arg is not Ellipsis][-1] if held else None


def _unwrapped(kind: Any) -> Any:
    """Without Annotated and None."""
    while kind is not None and not _is_model(kind):
        parts = list(_parts(kind))
        if len(parts) != 1:
            break
        kind = parts[0]
    return kind


def _parts(kind: Any) -> Iterator[Any]:
    if hasattr(kind, "__metadata__"):
        yield get_args(kind)[0]
    elif get_origin(kind) not in (tuple, dict, list):
        yield from (arg for arg in get_args(kind) if arg is not type(None))
