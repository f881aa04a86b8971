"""Why something hangs on one thing, in sentences that a client understands.

In: frozen `Reason`s of one single point. Out: the part of a sentence after "because".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import groupby

from sim.limits.findings import first_few
from sim.report.words import counted, harmless, listed, unit_words, wall_words
from sim.study.points import SinglePoint
from sim.study.reasons import Reason

MOST = 3
HELD = ("held", "layer held")
"""Kinds of reasons that name choices, which are told together."""
SENT = {
    "": "a valid signal",
    "black": "valid, but black", "corrupt": "valid, but torn", "wrong": "valid, but wrong",
    "frozen": "valid, but standing still", "unlocked": "valid, but off the reference",
}  # fmt: skip


def because(point: SinglePoint, plainly: bool = False) -> str:
    """All reasons of a point, joined. `plainly`: without what the signal shows, said elsewhere."""
    given = [replace(r, quality="") if plainly else r for r in point.reasons]
    alike = groupby(
        given, key=lambda r: (r.kind, () if r.kind in HELD else r.names, r.lost, r.about[:1])
    )
    texts = [WORDS[kind[0]](point, _merged(list(of))) for kind, of in alike]
    return "; ".join(dict.fromkeys(texts))


def _merged(alike: Sequence[Reason]) -> Reason:
    """Reasons that differ in the layer only, as one that names all layers, or all choices."""
    first = alike[0]
    names = tuple(dict.fromkeys(name for reason in alike for name in reason.names))
    layers = tuple(dict.fromkeys(r.about[1] for r in alike if len(r.about) > 1))
    about = (*first.about[:1], *layers) if layers else first.about
    return replace(first, about=about, names=names)


def _names(names: Iterable[str]) -> str:
    of = [unit_words(name) for name in names]
    return listed(of) if len(of) <= MOST else first_few(of, MOST)


def _where(reason: Reason) -> str:
    if reason.walls:
        return listed([f"the {wall_words(wall)}" for wall in reason.walls])
    some = reason.fewest and reason.fewest < reason.cabinets
    return (f"{reason.fewest} to " if some else "") + counted(reason.cabinets, "cabinet")


def _it(point: SinglePoint, names: Sequence[str]) -> str:
    """`it`, or what hangs on it."""
    if tuple(names) == (point.role,):
        return "it"
    lies = "lies on it" if len(names) == 1 else "lie on it"
    hangs = "hangs on it" if len(names) == 1 else "hang on it"
    return f"{_names(names)}, which {lies if point.where[0].startswith('route ') else hangs}"


def _card(point: SinglePoint, reason: Reason) -> str:
    return "nothing but it shows the picture there"


def _power(point: SinglePoint, reason: Reason) -> str:
    return f"nothing else powers {_where(reason)}"


def _way(point: SinglePoint, reason: Reason) -> str:
    through = _it(point, reason.names)
    if len(reason.names) > 1:
        return f"all ways from the sources to {_where(reason)} run through {through}"
    return f"every way from the sources to {_where(reason)} runs through {through}"


def _held(point: SinglePoint, reason: Reason) -> str:
    return f"{_lost(point, reason)}{_stays(reason)}"


def _lost(point: SinglePoint, reason: Reason) -> str:
    """What goes with it, where that is something else."""
    if not reason.lost or reason.lost == (point.role,):
        return ""
    verb = "lie" if point.where[0].startswith("route ") else "hang"
    return f"{_names(reason.lost)} {verb}{'s' * (len(reason.lost) == 1)} on it, and "


def _stays(reason: Reason) -> str:
    one = len(reason.names) == 1
    stays = "is set by hand: it stays" if one else "are set by hand: each stays"
    return f"{_names(reason.names)} {stays} until somebody acts"


def _layers(reason: Reason) -> str:
    names = listed([harmless(name) for name in reason.about[1:]])
    word = "layer" if len(reason.about) == 2 else "layers"
    return f"the {word} {names} of {unit_words(reason.about[0])}"


def _layer(point: SinglePoint, reason: Reason) -> str:
    through = _it(point, reason.names)
    more = "every way" if len(reason.names) == 1 else "all ways"
    run = "runs" if len(reason.names) == 1 else "run"
    return (
        f"{more} from a source to {_layers(reason)} {run} through {through}; the unit goes on "
        "sending, so no changeover further down is triggered"
    )


def _layer_held(point: SinglePoint, reason: Reason) -> str:
    return f"{_lost(point, reason)}{_stays(reason)}; the unit goes on sending meanwhile"


def _loop(point: SinglePoint, reason: Reason) -> str:
    return (
        f"{_layers(reason)} comes through the loop-through of {_names(reason.names)}, which is "
        "active and dies with it"
    )


def _other(point: SinglePoint, reason: Reason) -> str:
    return f"what stands in for {_layers(reason)} is another picture"


def _reference(point: SinglePoint, reason: Reason) -> str:
    unit = unit_words(reason.about[0])
    return f"{unit} follows no other reference than by way of {_it(point, reason.names)}"


def _valid(point: SinglePoint, reason: Reason) -> str:
    what = f"what arrives is {SENT[reason.quality]}"
    if reason.about:
        return f"{what}, and the choices that would leave it do not stand on every way"
    if not reason.names:
        return f"{what}, and nothing after it could choose otherwise"
    return f"{what}, and {_names(reason.names)} {_takes(reason)} anything that arrives"


def _takes(reason: Reason) -> str:
    return "takes" if len(reason.names) == 1 else "take"


def _unjudged(point: SinglePoint, reason: Reason) -> str:
    gets = "gets" if len(reason.about) == 1 else "get"
    what = f"what {_names(reason.about)} {gets} is {SENT[reason.quality]}"
    if reason.names:
        what += f", which {_names(reason.names)} {_takes(reason)}"
    return f"{what}; behind a scaling unit nothing judges the picture"


def _moved(point: SinglePoint, reason: Reason) -> str:
    return "somebody chose it, what it shows is a valid signal, and nothing puts it back"


def _flaps(point: SinglePoint, reason: Reason) -> str:
    if not reason.names:
        return "it comes and goes, and nothing after it could choose otherwise"
    back = (
        "goes back to it each time, or does"
        if len(reason.names) == 1
        else ("go back to it each time, or do")
    )
    return f"it comes and goes, and {_names(reason.names)} {back} not leave it in time"


def _pending(point: SinglePoint, reason: Reason) -> str:
    return f"the start or wait of {_names(reason.names)} had not ended when the show did"


def _unknown(point: SinglePoint, reason: Reason) -> str:
    return "no way is missing, but what is left does not bring the picture back"


WORDS: dict[str, Callable[[SinglePoint, Reason], str]] = {
    "card": _card, "power": _power, "way": _way, "held": _held, "layer": _layer,
    "layer held": _layer_held, "loop": _loop, "other picture": _other, "reference": _reference,
    "valid": _valid, "unjudged": _unjudged, "moved": _moved, "comes and goes": _flaps,
    "pending": _pending, "unexplained": _unknown,
}  # fmt: skip
