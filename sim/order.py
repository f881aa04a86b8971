"""Names in an order in which each comes after all that it hangs on.

In: for each name those before it. Out: a list of names. The order is that of Python's own
`graphlib`, found in time that grows with the number of names and pointers only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from graphlib import TopologicalSorter


def in_order(before: Mapping[str, Sequence[str]]) -> list[str]:
    """All names, each after those before it. Raises graphlib.CycleError if there is a cycle."""
    waits: dict[str, int] = {}
    after: dict[str, list[str]] = {}
    for name, names in before.items():
        waits[name] = waits.get(name, 0) + len(names)
        for each in names:
            waits.setdefault(each, 0)
            after.setdefault(each, []).append(name)
    found = [name for name, count in waits.items() if not count]
    for name in found:
        for each in after.get(name, ()):
            waits[each] -= 1
            if not waits[each]:
                found.append(each)
    if len(found) < len(waits):
        TopologicalSorter(before).prepare()
    return found
