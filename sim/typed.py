"""Frozen values as JSON can say them, and back: by the types that their fields are declared with.

In: a type (a frozen dataclass, and what its fields are made of) with a value, or with what was
said. Out: lists, texts and whole numbers; the value again, equal and of the same types, or
ValueError. Names of types are never said, so that nothing else than that type can come of it.
Floats are said in hexadecimal, fractions as texts: both are exact.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from sim.executing import Json

FRACTION = re.compile(r"-?[0-9]{1,2000}/[0-9]{1,2000}", re.ASCII)
PLAIN = (int, str, bool, NoneType)
"""What is said as it is; so is a whole number in place of a float, such as a sum of no floats."""
Kind = Any
"""A type, or what stands for one in a declaration."""


def said(kind: Kind, value: Any) -> Json:
    """A value of this kind. Raises TypeError for a kind that cannot be said."""
    origin, of = _parts(kind)
    if _is_declared(kind):
        return [said(each, getattr(value, name)) for name, each in _declared(kind)]
    if origin in (Union, UnionType):
        number = _which(of, value)
        return [number, said(of[number], value)]
    if origin is tuple:
        return [said(each, one) for each, one in zip(_each(of, len(value)), value, strict=True)]
    if origin is frozenset:
        return [said(of[0], one) for one in sorted(value)]
    if origin is Mapping:
        return [[said(of[0], key), said(of[1], one)] for key, one in value.items()]
    return _plainly(kind, value)


def _plainly(kind: Kind, value: Any) -> Json:
    if kind is float and type(value) is float:
        return value.hex()
    if kind is Fraction:
        return f"{value.numerator}/{value.denominator}"
    if type(value) is (int if kind is float else kind) and type(value) in PLAIN:
        return value
    raise TypeError(f"{value!r} cannot be said as {kind}")


def heard(kind: Kind, text: Json) -> Any:
    """The value again. Raises ValueError for what is none of this kind."""
    origin, of = _parts(kind)
    if _is_declared(kind):
        names = _declared(kind)
        return _made(kind, [heard(k, t) for (_, k), t in zip(names, _list(text), strict=True)])
    if origin in (Union, UnionType):
        number, one = _pair(text)
        if type(number) is not int or not 0 <= number < len(of):
            raise ValueError("none of several kinds")
        return heard(of[number], one)
    if origin is tuple:
        each = _each(of, len(_list(text)))
        return tuple(heard(k, t) for k, t in zip(each, text, strict=True))
    if origin is frozenset:
        return frozenset(heard(of[0], one) for one in _list(text))
    if origin is Mapping:
        return {heard(of[0], key): heard(of[1], one) for key, one in map(_pair, _list(text))}
    return _plain(kind, text)


def _plain(kind: Kind, text: Json) -> Any:
    if kind is Fraction or (kind is float and type(text) is str):
        return _number(kind, text)
    if (
        type(text) is (int if kind is float else kind) and type(text) in PLAIN
    ):  # a sum of no floats is the whole number 0
        return text
    raise ValueError(f"no {kind}")


def _number(kind: Kind, text: Json) -> float | Fraction:
    """Raises ValueError for what is no number of this kind."""
    try:
        if kind is float:
            return float.fromhex(text)
        if FRACTION.fullmatch(text):
            return Fraction(text)
    except (TypeError, OverflowError, ZeroDivisionError):
        pass
    raise ValueError("no number")


def _parts(kind: Kind) -> tuple[Any, tuple[Kind, ...]]:
    """What a declaration is of, and of what that is made."""
    return get_origin(kind), get_args(kind)


def _is_declared(kind: Kind) -> bool:
    return bool(is_dataclass(kind))


@cache
def _declared(kind: Kind) -> tuple[tuple[str, Kind], ...]:
    """The fields of a dataclass with their kinds."""
    hints = get_type_hints(kind)
    return tuple((each.name, hints[each.name]) for each in fields(kind))


def _made(kind: Kind, values: list[Any]) -> Any:
    named = zip((name for name, _ in _declared(kind)), values, strict=True)
    try:
        return kind(**dict(named))
    except (TypeError, ArithmeticError, LookupError) as error:
        raise ValueError(f"no {kind}") from error


def _each(of: tuple[Kind, ...], count: int) -> tuple[Kind, ...]:
    return of[:1] * count if of[-1:] == (Ellipsis,) else of


def _which(of: tuple[Kind, ...], value: Any) -> int:
    """Which of several kinds a value is of."""
    for number, kind in enumerate(of):
        if type(value) is (_parts(kind)[0] or kind):
            return number
    origins = [_parts(kind)[0] for kind in of]
    if Mapping in origins and isinstance(value, Mapping):
        return origins.index(Mapping)
    raise TypeError(f"{value!r} is of none of {of}")


def _list(text: Json) -> list[Json]:
    if not isinstance(text, list):
        raise ValueError("no list")
    return text


def _pair(text: Json) -> tuple[Json, Json]:
    if not isinstance(text, list) or len(text) != 2:
        raise ValueError("no pair")
    return text[0], text[1]
