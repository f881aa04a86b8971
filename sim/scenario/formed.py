"""Whether a topology written out node by node holds together.

In: a file under check, and a form with its path. Out: problems in five parts.
"""

from __future__ import annotations

from sim.errors import nearest_name
from sim.scenario.checks import Checked, Found
from sim.scenario.fields import NAME_RULE, is_name
from sim.scenario.messages import Path
from sim.scenario.models import FormEntry


def form_problems(on: Checked, path: Path, form: FormEntry) -> Found:
    """Senders, names and sides of a form are those that it has, and nothing feeds itself."""
    known = {*form.units, *form.relays}
    yield from _node_names(on, path, form)
    yield from _legs(on, path, form)
    for key in ("heads", "tails", "second"):
        for pattern, sender in getattr(form, key).items():
            yield from _sender(on, (*path, key, pattern), sender, known)
    for name in form.backup_side:
        if name not in form.relays:
            yield on.wrong(
                (*path, "backup_side"),
                f"{name!r} is no relay of this form",
                ", ".join(form.relays) or "nothing: the form has no relay",
                nearest_name(name, form.relays),
                "name one of them, or delete it",
            )


def _node_names(on: Checked, path: Path, form: FormEntry) -> Found:
    """Names of relays follow the rule for names, and no name is one that the program gives."""
    for name in form.relays:
        bare = name.removeprefix(WALL)
        if not is_name(bare):
            todo = "choose another name"
            yield on.wrong((*path, "relays", name), f"{name!r} cannot be a name", RELAY, todo=todo)
        elif name in form.units:
            yield on.wrong(
                (*path, "relays", name),
                f"{name!r} is also a unit of this form",
                "each name once",
                todo="rename one of the two",
            )
    for key, name in [("units", u) for u in form.units] + [("relays", r) for r in form.relays]:
        if name.removeprefix(WALL).startswith(GIVEN):
            where = (*path, key, name) if key == "relays" else (*path, key)
            yield on.wrong(
                where,
                f"{name!r} begins as the names of ports and trunks do",
                "names that do not begin with port- or trunk-",
                todo="choose another name",
            )


WALL = "{wall}/"
RELAY = f"{NAME_RULE}; {WALL} before it for one on each wall"
GIVEN = ("port-", "trunk-")


def _legs(on: Checked, path: Path, form: FormEntry) -> Found:
    """A relay is fed by units and by relays above it, so that nothing feeds itself."""
    above = [*form.units]
    for relay, legs in form.relays.items():
        if not legs:
            yield on.wrong(
                (*path, "relays", relay),
                f"{relay!r} is fed by nothing",
                "a list of units and relays above it",
                todo="write who feeds it, as [unit-a]",
            )
        for leg in legs:
            if not 1 <= len(leg) <= 2:
                yield on.wrong(
                    (*path, "relays", relay),
                    f"{len(leg)} senders in one leg",
                    "one, or two as a seamless pair",
                    todo="write [a, b] for a pair, and a list of legs",
                )
            for sender in leg:
                yield from _feeder(on, (*path, "relays", relay), sender, above, form)
        above += [] if relay.startswith(WALL) else [relay]


def _feeder(on: Checked, path: Path, sender: str, above: list[str], form: FormEntry) -> Found:
    if sender in above or sender not in form.relays:
        yield from _sender(on, path, sender, set(above))
    elif sender.startswith(WALL):
        yield on.wrong(
            path,
            f"{sender!r} is a relay of each wall, and cannot feed another relay",
            ", ".join(above),
            todo="name a unit, or a relay without {wall}/",
        )
    else:
        yield on.wrong(
            path,
            f"{sender!r} does not stand above {path[-1]!r}",
            ", ".join(above),
            todo=f"write {sender} first; no relay feeds itself, directly or through others",
        )


def _sender(on: Checked, path: Path, sender: str, known: set[str]) -> Found:
    if sender not in known:
        yield on.wrong(
            path,
            f"{sender!r} is no unit or relay of this form",
            ", ".join(sorted(known)),
            nearest_name(sender, known),
            "name one of them, or add it",
        )
