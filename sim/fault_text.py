"""Faults as people write them on one line: `cut main/trunk-main-1 at 20:10:00;00 for 4 s`.

In: texts, the rig they speak of, the show's rate and start time code. Out: frozen `Fault`s; every
problem of a text in one message. A text is a mode, a thing (a name, a pattern such as
`main/r1c*/receiver`, or `route NAME`), then any of: at TIME, for TIME, every PERIOD, off TIME,
by LOSS dB, frames NUMBER, to CHOICE, hard, before the show.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fnmatch import fnmatchcase
from fractions import Fraction

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.faults import MODES, Fault
from sim.strikes import FLAP_PERIOD
from sim.timebase import Rate, parse_time
from sim.timecode import parse_instant
from sim.topology import Carrier, Rig, selectors

WORDS = ("at", "for", "every", "off", "by", "frames", "to", "hard", "before the show")
EVERY_MODE = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
SPLIT = re.compile(r"\s+(before the show|hard|at|for|every|off|by|frames|to)(?=\s|$)")


def parse_fault(text: str, rig: Rig, rate: Rate, start: str) -> tuple[Fault, ...]:
    """The faults that a text means: one for each thing that its pattern matches or its route
    carries.

    Raises InputError. Times are flicks from the start of the show; `at` takes a time, a number of
    frames or a time code; without it a fault strikes when the show begins.
    """
    where = f"fault {text!r}"
    mode, name, words = _cut(text, where)
    things = _things(name, mode, rig, where)
    at = -1 if "before the show" in words else 0
    if "at" in words:
        at = parse_instant(words["at"], rate, start, where)
    if at >= rig.length:
        raise refuse(where, "strikes after the end of the show", "a time within the show")
    until = at + parse_time(words["for"], rate, where) if "for" in words else None
    if until is not None and until <= at:
        raise refuse(
            where, f"lasts {words['for']}", "a time above zero", todo="leave `for` out if it lasts"
        )
    return tuple(_fault(rig, thing, mode, words, at, until, rate, where) for thing in things)


def _cut(text: str, where: str) -> tuple[str, str, dict[str, str]]:
    mode, _, rest = text.strip().partition(" ")
    if mode not in EVERY_MODE:
        raise refuse(
            where,
            f"begins with {mode!r}, which is no fault mode",
            ", ".join(EVERY_MODE),
            nearest_name(mode, EVERY_MODE),
            "write the mode first, then the thing",
        )
    parts = SPLIT.split(" " + rest)
    words = {word: value.strip() for word, value in zip(parts[1::2], parts[2::2], strict=True)}
    if not parts[0].strip():
        raise refuse(where, "names no thing", "a thing, a pattern, or `route NAME`")
    return mode, parts[0].strip(), words


def _things(name: str, mode: str, rig: Rig, where: str) -> tuple[str, ...]:
    if name.startswith("route "):
        return _on_route(name.removeprefix("route ").strip(), rig, where)
    known = _known(rig, mode)
    found = tuple(each for each in known if each == name or fnmatchcase(each, name))
    if not found:
        raise refuse(
            where,
            f"there is no {name!r} that can be {mode}",
            "a thing of the rig, a pattern with *, or `route NAME`",
            nearest_name(name, known),
            "see the names with `staylit draw SCENARIO --format json`",
        )
    return found


def _known(rig: Rig, mode: str) -> tuple[str, ...]:
    things = tuple(thing.name for thing in rig.things.values() if mode in thing.modes)
    if mode != "moved":
        return things
    return (*things, *(selector.name for selector, node in selectors(rig) if len(node.inputs) > 1))


def _on_route(route: str, rig: Rig, where: str) -> tuple[str, ...]:
    found = tuple(thing.name for thing in rig.things.values() if route in thing.routes)
    if not found:
        routes = dict.fromkeys(r for thing in rig.things.values() for r in thing.routes)
        raise refuse(
            where,
            f"no cable lies on route {route!r}",
            ", ".join(routes),
            nearest_name(route, routes),
        )
    return found


def _fault(
    rig: Rig,
    thing: str,
    mode: str,
    words: Mapping[str, str],
    at: int,
    until: int | None,
    rate: Rate,
    where: str,
) -> Fault:
    if at < 0 and mode in ("flapping", "drops", "restart", "moved"):
        raise refuse(
            where,
            f"{mode} before the show",
            "a mode that can last from before",
            todo="give it a time",
        )
    period = parse_time(words["every"], rate, where) if "every" in words else FLAP_PERIOD
    off = parse_time(words["off"], rate, where) if "off" in words else period // 2
    if mode == "flapping" and not 0 < off < period:
        raise refuse(
            where, "is off all the time or never", "off: above zero and shorter than every"
        )
    flaps = mode == "flapping"
    return Fault(
        thing,
        mode,
        at,
        until,
        hard="hard" in words,
        period=period if flaps else 0,
        off=off if flaps else 0,
        loss=_loss(words, rig.things[thing].margin, where) if mode == "attenuated" else 0,
        frames=_count(words.get("frames", "1"), where) if mode == "drops" else 0,
        choice=_choice(rig, thing, words, where) if mode == "moved" else None,
    )


def _loss(words: Mapping[str, str], margin: int, where: str) -> int:
    """Thousandths of a dB; without a word for it half a dB beyond the margin."""
    if "by" not in words:
        return margin + 500
    match = re.fullmatch(r"(\d+(?:\.\d+)?) ?dB", words["by"])
    if not match or Fraction(match[1]) == 0:
        raise refuse(
            where, f"loses {words['by']!r}", "a loss above zero with its unit, such as `by 2.5 dB`"
        )
    return round(Fraction(match[1]) * 1000)


def _count(text: str, where: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,5}", text):
        raise refuse(where, f"drops {text!r} frames", "a whole number of source frames, at least 1")
    return int(text)


def _choice(rig: Rig, name: str, words: Mapping[str, str], where: str) -> int | str:
    by_name = {selector.name: node for selector, node in selectors(rig)}
    options: Sequence[str] = by_name[name].inputs if name in by_name else _arrangements(rig, name)
    if words.get("to", "") not in options:
        found = f"moves {name} to {words.get('to', 'nothing')!r}"
        near = nearest_name(words.get("to", ""), options)
        raise refuse(where, found, ", ".join(options), near, "say what was taken: to ...")
    return options.index(words["to"]) if name in by_name else words["to"]


def _arrangements(rig: Rig, thing: str) -> tuple[str, ...]:
    carriers = {n.name for n in rig.nodes.values() if isinstance(n, Carrier) and n.thing == thing}
    groups = [group for group in rig.groups.values() if carriers & set(group.carriers)]
    return tuple(name for group in groups for name in group.arrangements)


def parse_faults(texts: Sequence[str], rig: Rig, rate: Rate, start: str) -> tuple[Fault, ...]:
    """All faults of several texts; every problem in one error."""
    problems: list[Problem] = []
    faults: list[Fault] = []
    for text in texts:
        try:
            faults += parse_fault(text, rig, rate, start)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(faults)
