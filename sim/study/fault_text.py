"""Faults as people write them on one line: `cut main/trunk-main-1 at 20:10:00;00 for 4 s`.

In: texts, the rig they speak of, the show's rate and start time code. Out: frozen `Fault`s; every
problem of a text in one message. A text is a mode, a thing (a name, a pattern such as
`main/r1c*/receiver`, or `route NAME`), then any of: at TIME, for TIME, every PERIOD, off TIME,
by LOSS dB, losing NUMBER frames, to CHOICE, hard, before the show.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.faults import MODES, Fault
from sim.rig.topology import Carrier, Rig, selectors
from sim.study.strikes import FLAP_PERIOD
from sim.timebase import Rate, parse_time
from sim.timecode import parse_instant

ONLY = {
    "every": "flapping",
    "off": "flapping",
    "by": "attenuated",
    "losing": "drops",
    "to": "moved",
}
"""Words that belong to one mode only."""
EVERY_MODE = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
SPLIT = re.compile(r"\s+(before the show|hard|at|for|every|off|by|losing|to)(?=\s|$)")


@dataclass(frozen=True, slots=True)
class _Text:
    """A fault text taken apart; times in flicks, `where` for messages."""

    mode: str
    words: Mapping[str, str]
    at: int
    until: int | None
    rate: Rate
    where: str


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
    said = _Text(mode, words, at, until, rate, where)
    return tuple(_fault(rig, thing, said) for thing in things)


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
    written = [(word, value.strip()) for word, value in zip(parts[1::2], parts[2::2], strict=True)]
    words = dict(written)
    _refuse_words(mode, [word for word, _ in written], where)
    for word in ("hard", "before the show"):
        if words.get(word):
            raise refuse(where, f"says {words[word]!r} after {word!r}", "a word such as at or for")
    if not parts[0].strip():
        raise refuse(where, "names no thing", "a thing, a pattern, or `route NAME`")
    return mode, parts[0].strip(), words


def _refuse_words(mode: str, written: Sequence[str], where: str) -> None:
    """Refuse what cannot be meant: a word twice, or one that belongs to another mode."""
    for word in dict.fromkeys(written):
        if written.count(word) > 1:
            raise refuse(where, f"says {word!r} twice", "each word once")
        if ONLY.get(word, mode) != mode:
            raise refuse(where, f"says {word!r}, which {mode} has not", f"{word} with {ONLY[word]}")
    if "at" in written and "before the show" in written:
        raise refuse(where, "says when twice", "either a time or `before the show`")


def _things(name: str, mode: str, rig: Rig, where: str) -> tuple[str, ...]:
    if name.startswith("route "):
        return _on_route(name.removeprefix("route ").strip(), mode, rig, where)
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


def _on_route(route: str, mode: str, rig: Rig, where: str) -> tuple[str, ...]:
    found = [thing for thing in rig.things.values() if route in thing.routes]
    if not found:
        routes = dict.fromkeys(r for thing in rig.things.values() for r in thing.routes)
        near = nearest_name(route, routes)
        todo = "name the route as the scenario has it"
        raise refuse(where, f"no cable lies on route {route!r}", ", ".join(routes), near, todo)
    able = tuple(thing.name for thing in found if mode in thing.modes)
    if not able:
        modes = dict.fromkeys(m for thing in found for m in thing.modes)
        raise refuse(where, f"no cable can be {mode}", ", ".join(modes))
    return able


def _fault(rig: Rig, thing: str, text: _Text) -> Fault:
    mode, words, where = text.mode, text.words, text.where
    if text.at < 0 and mode in ("flapping", "drops", "restart", "moved"):
        allowed = "a mode that can last from before"
        raise refuse(where, f"{mode} before the show", allowed, todo="give it a time")
    period, off = _turn(text, rig.length) if mode == "flapping" else (0, 0)
    return Fault(
        thing,
        mode,
        text.at,
        text.until,
        hard="hard" in words,
        period=period,
        off=off,
        loss=_loss(words, rig.things[thing].margin, where) if mode == "attenuated" else 0,
        frames=_count(words.get("losing", "1"), where) if mode == "drops" else 0,
        choice=_choice(rig, thing, words, where) if mode == "moved" else None,
    )


MOST_TURNS = 20_000
"""Off parts of a flapping fault that one run works through."""


def _turn(text: _Text, length: int) -> tuple[int, int]:
    """Period and off part of a flapping fault, flicks."""
    words, where = text.words, text.where
    period = parse_time(words["every"], text.rate, where) if "every" in words else FLAP_PERIOD
    off = parse_time(words["off"], text.rate, where) if "off" in words else period // 2
    if not 0 < off < period:
        found = "is off all the time or never"
        raise refuse(where, found, "off: above zero and shorter than every")
    turns = (min(length, text.until or length) - text.at) // period
    if turns > MOST_TURNS:
        found = f"comes and goes {turns} times"
        todo = "give it a longer period, or let it last for a shorter time"
        raise refuse(where, found, f"at most {MOST_TURNS} times", todo=todo)
    return period, off


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
    match = re.fullmatch(r"([1-9]\d{0,5})( frames?)?", text)
    if not match:
        raise refuse(where, f"loses {text!r}", "a whole number of source frames, at least 1")
    return int(match[1])


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
