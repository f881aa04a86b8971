"""Acts in words: what is done to what, what it costs.

In: frozen acts, prices and examples, the rig that they are for. Out: short texts. A name of a
scenario is written out so that it can be no control character, and cut where it is long.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.practice.acts import Act
from sim.practice.kindred import role_of
from sim.practice.nevers import Example
from sim.practice.weighing import Price
from sim.report.words import counted, harmless, listed, plain, seconds, share, unit_words
from sim.rig.topology import Rig, selectors

LONGEST = 70
"""Characters of a name on a slip."""
BY_ACT = {
    "restart": "restart {}",
    "reseat": "reseat {}",
    "swap": "swap {} with a spare",
    "re-patch": "move the cable of {} to a free port",
    "bypass": "bypass {}",
    "load": "load the settings in use into {}",
}
BREAKER = "switch {} on again, once, if found safe"
"""What a restart of a circuit is."""


def cut(text: str, most: int = LONGEST) -> str:
    """A name that cannot fill a page."""
    shown = harmless(text).replace("\n", " ")
    return shown if len(shown) <= most else shown[: most - 3].rstrip() + "..."


def acts_words(acts: Sequence[Act], rig: Rig, many: bool) -> str:
    """Acts as they are told; `many`: by the role of what is touched, as there are many like it."""
    words = [_act(act, rig, many) for act in acts]
    return listed(dict.fromkeys(words))


def _act(act: Act, rig: Rig, many: bool) -> str:
    if act.do == "select":
        node = next(node for of, node in selectors(rig) if of.name == act.on)
        taken = cut(plain(node.inputs[int(act.to)]))
        return f"select {taken} on {_called(act.on, rig, many)}"
    if act.do == "take":
        return f"take the arrangement {cut(act.to)} on {cut(act.on)}"
    thing = rig.things.get(act.on)
    circuit = thing is not None and thing.family == "circuit" and act.do == "restart"
    return (BREAKER if circuit else BY_ACT[act.do]).format(_called(act.on, rig, many))


def _called(name: str, rig: Rig, many: bool) -> str:
    if name in rig.cabinets:
        return "the cabinet" if many else f"cabinet {cut(name)}"
    if many and name in rig.things:
        role = role_of(name, rig)
        unit = unit_words(role)
        return cut(unit) if unit != plain(role) else f"the {cut(unit)}"
    return cut(plain(name))


def price_words(price: Price) -> str:
    """What an act costs: `100 % of main dark for 69 frames`."""
    if not price.frames:
        return f"{seconds(float(price.lost))} s of the whole picture not lit"
    walls = listed(cut(wall, 40) for wall in price.walls)
    return f"{share(price.share)} of {walls} dark for {counted(price.frames, 'frame')}"


def example_words(example: Example, rig: Rig) -> str:
    """What a rule of the never-do list costs on this rig."""
    things = listed(cut(unit_words(name)) for name in example.things)
    after = f"with {cut(plain(example.after))}, " if example.after else ""
    if example.price.frames:
        return f"Here: {after}{example.do} {things}, and {price_words(example.price)} (typical)."
    walls = listed(cut(wall, 40) for wall in example.price.walls)
    return (
        f"Here: {things} {example.do}: {share(example.price.share)} of {walls} not as it should be."
    )


def raised(text: str) -> str:
    """A text that begins a sentence."""
    return text[:1].upper() + text[1:]
