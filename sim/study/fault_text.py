"""Faults as people write them on one line: `cut main/trunk-main-1 at 20:10:00;00 for 4 s`.

In: texts, the rig they speak of, the show's rate and start time code, names by which things are
known besides their own. Out: frozen `Fault`s; every problem of a text in one message. A text is a
mode, a thing (a name, a pattern such as `main/r1c*/receiver`, or a route), then any of: at TIME,
for TIME (`for ever`: it lasts), every PERIOD, off TIME, by LOSS dB, losing NUMBER frames,
to CHOICE, hard, before the show.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.faults import MODES, Fault
from sim.rig.topology import Carrier, Rig, selectors
from sim.study.fault_names import QUOTES, SPLIT, Spoken, cut_name
from sim.study.strikes import FLAP_PERIOD
from sim.timebase import FOREVER, Rate, parse_time
from sim.timecode import parse_instant

ONLY = {
    "every": "flapping",
    "off": "flapping",
    "by": "attenuated",
    "losing": "drops",
    "to": "moved",
}
"""Words that belong to one mode only."""
ENDS_ITSELF = ("drops", "restart")
"""Modes that end of themselves: how long they last cannot be said."""
EVERY_MODE = tuple(dict.fromkeys(mode for modes in MODES.values() for mode in modes))
COMMON = {
    "black": "blanked", "broken": "dead", "dark": "blanked", "disconnected": "cut",
    "failed": "dead", "failing": "dead", "freeze": "stuck", "frozen": "stuck", "killed": "dead",
    "loose": "flapping", "lost": "dead", "off": "dead", "reboot": "restart", "severed": "cut",
    "unplugged": "cut", "wrong": "stale",
}  # fmt: skip
"""What people may call a mode, and the mode that is nearest to it."""


Choices = Mapping[str, int | str]
"""Number of an input, or an arrangement, by every name for it."""


@dataclass(frozen=True, slots=True)
class _Text:
    """A fault text taken apart; times in flicks, `where` for messages."""

    mode: str
    words: Mapping[str, str]
    at: int
    until: int | None
    rate: Rate
    where: str


def parse_fault(
    text: str, rig: Rig, rate: Rate, start: str, spoken: Spoken = MappingProxyType({})
) -> tuple[Fault, ...]:
    """The faults that a text means: one for each thing that its pattern matches or its route
    carries.

    Raises InputError. Times are flicks from the start of the show; `at` takes a time, a number of
    frames or a time code; without it a fault strikes when the show begins.
    """
    where = f"fault {text!r}"
    mode, rest = _mode(text, where)
    things, rest = cut_name(rest, mode, rig, spoken, where)
    choices = {each: _choices(rig, each, spoken) for each in things} if mode == "moved" else {}
    words = _words(mode, rest, {name for of in choices.values() for name in of}, where)
    at, until = _times(words, rig.length, rate, start, where)
    said = _Text(mode, words, at, until, rate, where)
    return tuple(_fault(rig, thing, said, choices.get(thing, {})) for thing in things)


def _times(
    words: Mapping[str, str], length: int, rate: Rate, start: str, where: str
) -> tuple[int, int | None]:
    """When a fault begins and ends, flicks."""
    at = -1 if "before the show" in words else 0
    if "at" in words:
        at = parse_instant(words["at"], rate, start, where)
    if at >= length:
        raise refuse(where, "strikes after the end of the show", "a time within the show")
    if words.get("for", "ever") == "ever":
        return at, None
    lasts = parse_time(words["for"], rate, where)
    if lasts == 0:
        todo = "leave `for` out if it lasts"
        raise refuse(where, f"lasts {words['for']}", "a time above zero", todo=todo)
    return at, None if lasts >= FOREVER else at + lasts


def _mode(text: str, where: str) -> tuple[str, str]:
    """The mode, and what follows it; reports print the thing first, then the mode."""
    mode, rest = [*text.split(None, 1), "", ""][:2]
    if mode not in EVERY_MODE:
        if swapped := SWAPPED.fullmatch(text.strip()):
            return swapped["mode"], f"{swapped['thing']}{swapped['rest']}"
        near = COMMON.get(mode.lower()) or (nearest_name(mode, EVERY_MODE) if rest else "")
        todo = "write the mode first, then the thing" if rest else QUOTES
        found = f"begins with {mode!r}, which is no fault mode"
        raise refuse(where, found, ", ".join(EVERY_MODE), near, todo)
    return mode, rest


SWAPPED = re.compile(
    rf"(?P<thing>\S.*?):?\s+(?P<mode>{'|'.join(EVERY_MODE)})"
    rf"(?P<rest>$|\s+(?:before the show|hard|at|for|every|off|by|losing|to)(?:\s.*|$))"
)
"""A thing, one mode, then at most what may follow a thing."""


def _words(mode: str, rest: str, choices: Iterable[str], where: str) -> dict[str, str]:
    """The words after the thing with their values; a choice may itself hold such words."""
    written: list[tuple[str, str]] = []
    for choice in sorted(choices, key=len, reverse=True):
        found = re.search(rf"\sto\s+{re.escape(choice)}(?=$|{SPLIT.pattern})", rest)
        if found:
            rest = rest[: found.start()] + rest[found.end() :]
            written.append(("to", choice))
            break
    parts = SPLIT.split(rest)
    written += [(word, value.strip()) for word, value in zip(parts[1::2], parts[2::2], strict=True)]
    words = dict(written)
    _refuse_words(mode, [word for word, _ in written], where)
    for word in ("hard", "before the show"):
        if words.get(word):
            raise refuse(where, f"says {words[word]!r} after {word!r}", "a word such as at or for")
    return words


def _refuse_words(mode: str, written: Sequence[str], where: str) -> None:
    """Refuse what cannot be meant: a word twice, or one that belongs to another mode."""
    for word in dict.fromkeys(written):
        if written.count(word) > 1:
            raise refuse(where, f"says {word!r} twice", "each word once")
        if ONLY.get(word, mode) != mode:
            raise refuse(where, f"says {word!r}, which {mode} has not", f"{word} with {ONLY[word]}")
    if "for" in written and mode in ENDS_ITSELF:
        allowed = f"{mode} without it: it ends of itself"
        raise refuse(where, f"says 'for', which {mode} has not", allowed)
    if "at" in written and "before the show" in written:
        raise refuse(where, "says when twice", "either a time or `before the show`")


def _fault(rig: Rig, thing: str, text: _Text, choices: Choices) -> Fault:
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
        choice=_choice(thing, choices, words, where) if mode == "moved" else None,
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


def _choice(thing: str, choices: Choices, words: Mapping[str, str], where: str) -> int | str:
    said = words.get("to", "")
    if said not in choices:
        names: dict[int | str, str] = {}
        for name, value in choices.items():
            names.setdefault(value, name)
        found = f"moves {thing} to {said or 'nothing'!r}"
        near, todo = nearest_name(said, choices), "say what was taken: to ..."
        raise refuse(where, found, ", ".join(names.values()), near, todo)
    return choices[said]


def _choices(rig: Rig, name: str, spoken: Spoken) -> Choices:
    """What can be chosen there, by every name for it: the inputs of a selector, or arrangements."""
    inputs = {selector.name: node.inputs for selector, node in selectors(rig)}.get(name)
    if inputs is None:
        return {arrangement: arrangement for arrangement in _arrangements(rig, name)}
    found: dict[str, list[int | str]] = {}
    for number, node in enumerate(inputs):
        thing = rig.nodes[node].thing
        also = (other for other, of in spoken.items() if of == (thing,))
        for each in {node: 0, thing: 0, thing.partition("/")[0]: 0, **dict.fromkeys(also)}:
            found.setdefault(each, []).append(number)
    return {each: numbers[0] for each, numbers in found.items() if len(numbers) == 1}


def _arrangements(rig: Rig, thing: str) -> tuple[str, ...]:
    carriers = {n.name for n in rig.nodes.values() if isinstance(n, Carrier) and n.thing == thing}
    groups = [group for group in rig.groups.values() if carriers & set(group.carriers)]
    return tuple(name for group in groups for name in group.arrangements)


def parse_faults(
    texts: Sequence[str], rig: Rig, rate: Rate, start: str, spoken: Spoken = MappingProxyType({})
) -> tuple[Fault, ...]:
    """All faults of several texts; every problem in one error."""
    problems: list[Problem] = []
    faults: list[Fault] = []
    for text in texts:
        try:
            faults += parse_fault(text, rig, rate, start, spoken)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(faults)
