"""Any frozen result as plain values for JSON.

In: dataclasses, tuples, mappings, fractions. Out: objects, lists, texts, whole numbers. Exact
fractions are texts such as `3/2`, exact decimals such as `12.50`; what is beyond counting is null;
a fault is its name, a variant what names it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from fractions import Fraction
from math import isfinite
from typing import Any

from sim.report.blocks import CAUTIONS
from sim.report.jsondoc import NOTES
from sim.scenario.scenario import Scenario, Variant
from sim.study.strikes import Strike


def as_values(item: Any) -> Any:
    """The plain value of a result; raises TypeError on what has none."""
    if isinstance(item, int | float | str | None):
        return item if not isinstance(item, float) or isfinite(item) else None
    if isinstance(item, Fraction | Decimal | Strike):
        return item.name if isinstance(item, Strike) else str(item)
    if isinstance(item, Variant):
        return {key: getattr(item, key) for key in ("group", "label", "topology", "offered")}
    if isinstance(item, Mapping):
        return {str(key): as_values(value) for key, value in item.items()}
    if isinstance(item, list | tuple | frozenset):
        values = [as_values(each) for each in item]
        return sorted(values) if isinstance(item, frozenset) else values
    if is_dataclass(item):
        return {each.name: as_values(getattr(item, each.name)) for each in fields(item)}
    raise TypeError(f"{type(item).__name__} has no plain value")


def head(name: str, scenario: Scenario) -> dict[str, Any]:
    """What every document begins with: its format, what its values mean, the show."""
    show = {
        "title": scenario.title,
        "rate": scenario.rate.label,
        "frame": scenario.rate.frame,
        "length": scenario.length,
    }
    return {"format": name, "about": NOTES, "cautions": [*CAUTIONS.texts], "show": show}
