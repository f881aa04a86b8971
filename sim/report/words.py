"""Numbers, names and lists as people read them, the same in every format for people.

In: exact shares, spans of frames, names of things as a rig has them. Out: short texts. A share is
never shown as 0 % or 100 % unless it is exactly that; control characters are written out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from sim.harmless import harmless as harmless  # noqa: PLC0414 (reports have it from here)
from sim.limits.findings import grouped, half_up, in_words


def share(part: Fraction) -> str:
    """A part of the whole in %, to a tenth, halves up: `33.3 %`; 0 % and 100 % only if exact.
    More than the whole in whole %: `1 406 %`.
    """
    if part in (0, 1):
        return f"{100 * int(part)} %"
    if part > 1:
        return f"{grouped(half_up(part * 100))} %" if part > Fraction(201, 200) else ">100 %"
    if part < Fraction(1, 1000):
        return "<0.1 %"
    if part > Fraction(999, 1000):
        return ">99.9 %"
    whole, tenth = divmod(half_up(part * 1000), 10)
    return f"{whole}.{tenth} %" if tenth or part * 100 != whole else f"{whole} %"


def shares(span: tuple[Fraction, Fraction]) -> str:
    """A span of shares: `8.3..33.3 %`, or one share."""
    least, most = share(span[0]), share(span[1])
    return least if least == most else f"{least.removesuffix(' %')}..{most}"


def frames(span: tuple[int, int]) -> str:
    """A span of frames: `3..4`, or one number."""
    return str(span[0]) if span[0] == span[1] else f"{span[0]}..{span[1]}"


def frames_words(span: tuple[int, int]) -> str:
    """`1 frame`, `3..4 frames`, `1 199..7 194 frames`."""
    ends = dict.fromkeys(grouped(end) for end in span)
    return f"{'..'.join(ends)} frame{'s' * (span != (1, 1))}"


def wall_words(wall: str) -> str:
    """`wall left`, but `hall wall`."""
    name = harmless(wall)
    return name if re.search(r"\bwall\b", name, re.IGNORECASE) else f"wall {name}"


def counted(number: int, one: str, many: str = "") -> str:
    """`1 fault`, `3 faults`."""
    return f"{grouped(number)} {one if number == 1 else many or one + 's'}"


def listed(names: Iterable[str], word: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    of = list(names)
    return f" {word} ".join([", ".join(of[:-1]), of[-1]] if len(of) > 1 else of)


def seconds(value: float) -> str:
    """Wall-seconds with three figures: `0.0123`, `4.56`, `262 000`; never 0 unless exactly 0."""
    if value == 0:
        return "0"
    if value < 0.0001:
        return "<0.0001"
    shown = f"{value:#.3g}"
    return grouped(round(float(shown))) if "e" in shown else shown.rstrip(".")


CABLE = re.compile(r"(?P<what>[^/]+)/(?P<loop>loop-)?to-(?P<end>.+?)(?:/(?P<link>\d+))?")
ENDS = {
    "power/head": "power feed cable",
    "power/jumper": "power jumper",
    "head": "head cable",
    "tail": "tail cable",
}
LASTS = tuple({end.rpartition("/")[2] for end in ENDS})
UNNAMED = "route unnamed route"


def plain(name: str) -> str:
    """The name of a thing, node, selector or role as a sentence has it."""
    name = harmless(name.rstrip("<>")).replace(UNNAMED, "cables without a named route")
    cable = CABLE.fullmatch(name) if "to-" in name else None
    if cable:
        link = f", link {cable['link']}" if cable["link"] else ""
        loop = "loop-through " if cable["loop"] else ""
        return f"{loop}cable {cable['what']} to {cable['end']}{link}"
    before, mark, place = name.partition("#")
    if mark:
        return in_words(f"{before if place == 'screen' else plain(before)}#{place}")
    if name.endswith(LASTS):
        for end, called in ENDS.items():
            if name == end or name.endswith(f"/{end}"):
                return (name.removesuffix(end).rstrip("/") + f" {called}").strip()
    return name


def unit_words(role: str) -> str:
    """A role in a sentence for a client: `unit-a` is scaling unit A."""
    found = re.fullmatch(r"(?:(.+)/)?unit-([a-z])", role)
    if not found or CABLE.fullmatch(role):
        return plain(role)
    return f"scaling unit {found[2].upper()}" + (f" of {found[1]}" if found[1] else "")


def struck_words(role: str, mode: str, units: bool = False) -> str:
    """What a fault strikes; a circuit that is hardly a word is told as one: `circuit A`. `units`:
    as in a sentence for a client.
    """
    if mode == "tripped" and len(role) <= 3:
        return f"circuit {harmless(role)}"
    return unit_words(role) if units else plain(role)


def supplier_words(supplier: str) -> str:
    """Whose item: `ours` for us, else the name."""
    return "us" if supplier == "us" else harmless(supplier)
