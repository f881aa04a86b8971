"""Other names by which an item of a scenario can be asked for, and what is said if none fits.

In: a name, the rigs of a scenario, the names by which reports call things. Out: the name that is
meant, or an InputError with what is allowed and the nearest names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from difflib import get_close_matches

from sim.errors import InputError, refuse
from sim.faults import MODES
from sim.rig.topology import Rig
from sim.study.fault_names import Spoken, several

Speaking = Callable[[Rig], Spoken]
"""By what other names the things of a rig are known."""
EVERY_MODE = sorted({mode for modes in MODES.values() for mode in modes})
WITH_MODE = re.compile(rf"(.+?):? ({'|'.join(map(re.escape, EVERY_MODE))})([, ].*)?")
ALLOWED = (
    "a timing (such as `relay unit.detect`), an equipment type, a thing of the rig, a route, a "
    "circuit, a limit, the place of an assumption, or a word of the reports (such as `latent`)"
)


def item_meant(
    name: str, rigs: Iterable[Rig], speaking: Speaking, limits: Mapping[str, Sequence[str]]
) -> str:
    """The item's own name, or "" if none is known. `limits`: labels by group, as reports count
    them. Raises InputError for a name that may mean several.
    """
    numbered = re.fullmatch(r"limit (\d{1,4})", name)
    if numbered:
        return _numbered(name, int(numbered[1]), limits)
    with_mode = WITH_MODE.fullmatch(name)
    for rig in rigs:
        spoken = speaking(rig)
        for called in (name, *([with_mode[1]] if with_mode else [])):
            if found := _in_rig(called, rig, spoken):
                return found
    return ""


def _numbered(name: str, number: int, limits: Mapping[str, Sequence[str]]) -> str:
    found = [labels[number - 1] for labels in limits.values() if 0 < number <= len(labels)]
    one_of = list(dict.fromkeys(found))
    most = max(map(len, limits.values()), default=0)
    if not one_of:
        allowed = f"limit 1 to limit {most}" if most else "no limit is stated"
        raise refuse(f"explain {name!r}", "there is no such limit", allowed)
    if len(one_of) > 1:
        raise several(name, one_of, f"explain {name!r}", "ask for one by its whole label")
    return one_of[0]


def _in_rig(name: str, rig: Rig, spoken: Spoken) -> str:
    """A thing, or a route; a selector means the thing that chooses."""
    thing = name.partition("#")[0]
    if thing in rig.things:
        return thing
    if any(name.removeprefix("route ") in each.routes for each in rig.things.values()):
        return name
    meant = list(dict.fromkeys(each.partition("#")[0] for each in spoken.get(name, ())))
    if len(meant) > 1:
        raise several(name, meant, f"explain {name!r}", "ask for one of them")
    return meant[0] if meant else ""


def no_item(name: str, known: Iterable[str]) -> InputError:
    """Nothing has this name; `known` are all that something has."""
    by_small: dict[str, str] = {}
    for each in known:
        by_small.setdefault(each.lower(), each)
    near = get_close_matches(name.lower(), by_small, n=3, cutoff=0.65)
    return refuse(
        f"explain {name!r}",
        "nothing here has this name",
        ALLOWED,
        ", ".join(by_small[each] for each in near),
        "see the places of all assumptions with `staylit check`",
    )
