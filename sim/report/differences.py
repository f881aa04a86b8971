"""What all topologies of a group have in common, and what differs, fault by fault.

In: a frozen `Comparison`. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.lead import in_all
from sim.report.rowtext import by_role, mode_of, short, worst_words
from sim.report.words import counted, struck_words
from sim.study.rows import FaultRow
from sim.study.study import Comparison, Difference

LEGEND = (
    "Lasting: the greatest share of the group, and D dark, C corrupt (torn or sparkling), W wrong "
    "picture, F frozen, U unlocked (seen by cameras only). A blink: frames in each state, least to "
    "most, of the one cell that is in it longest. *: no bound, for two protections race. -: cannot "
    "happen."
)
CROSSED = (
    "In crossed-relays each scaling unit's trunks lie on one way: a cut of the first one's way "
    "takes it off both relay units, so that the picture is back only when these have changed over, "
    "where in relay-pair the receiving cards go to the other end of their chain; the blink may be "
    "longer."
)


def common_blocks(one: Comparison) -> Iterator[Block]:
    everything = {True: in_all(one.buildable, True), False: in_all(one.buildable, False)}
    lasting = [row for row in one.common if row.verdict == "lasting" and not row.spoils_all]
    texts = []
    if everything[False]:
        names = "; ".join(by_role(everything[False]))
        texts.append(f"Takes the whole picture because nothing arrives: {names}.")
    if everything[True]:
        texts.append(
            "Takes the whole picture although a valid signal arrives, so that no backup notices: "
            f"{'; '.join(by_role(everything[True]))}."
        )
    texts += _by_area(lasting)
    texts += [_tally(one.common, verdict) for verdict in ("blink", "unseen")]
    if len(one.buildable) > 1:
        yield Heading("What they have in common", 3)
        yield Points(tuple(text for text in texts if text))


def _by_area(rows: Iterable[FaultRow]) -> list[str]:
    """A sentence for each share and state, those that cost most first."""
    alike: dict[str, dict[str, list[str]]] = {}
    for row in sorted(rows, key=lambda row: row.gravity, reverse=True):
        roles = alike.setdefault(worst_words(row), {})
        roles.setdefault(struck_words(row.role, row.mode), []).append(_mode(row))
    return [
        f"At most {part}, lasting: "
        + "; ".join(f"{role} ({', '.join(modes)})" for role, modes in roles.items())
        + "."
        for part, roles in alike.items()
    ]


def _mode(row: FaultRow) -> str:
    return mode_of(row) + (" that may outlast the show" if row.pending else "")


def _tally(rows: Iterable[FaultRow], verdict: str) -> str:
    found = [row for row in rows if row.verdict == verdict]
    kinds = counted(len(found), "further kind of fault", "further kinds of fault")
    does = {"blink": "blinks alike in all", "unseen": "is seen by nobody in any of them"}
    many = {"blink": "blink alike in all", "unseen": "are seen by nobody in any of them"}
    return f"{kinds} {(does if len(found) == 1 else many)[verdict]}." if found else ""


def different_blocks(one: Comparison) -> Iterator[Block]:
    if len(one.buildable) < 2:
        return
    rows = _difference_rows(one.differences)
    yield Heading("What differs, fault by fault", 3)
    if not rows:
        yield Para("Nothing.")
        return
    numbers = [i for i, study in enumerate(one.studies, 1) if study.can_be_built]
    labels = [f"{i} {one.studies[i - 1].variant.label}" for i in numbers]
    yield Para(f"{'; '.join(labels)}. {LEGEND}{_crossed(one)}")
    yield Table(("fault", *map(str, numbers)), rows, least=9)


def _crossed(one: Comparison) -> str:
    """Why the topology with crossed trunks may blink longer than others on a cut of one way."""
    shapes = {study.variant.topology for study in one.buildable}
    return f" {CROSSED}" if "crossed-relays" in shapes and len(shapes) > 1 else ""


def _difference_rows(differences: Iterable[Difference]) -> tuple[tuple[str, ...], ...]:
    """Kinds of one role that differ alike on one line, worst first; those never seen left out."""
    alike: dict[tuple[str, tuple[str, ...]], list[FaultRow]] = {}
    for difference in differences:
        cells = tuple(short(row) for row in difference.rows)
        known = [row for row in difference.rows if row is not None]
        if len(set(cells)) > 1 and any(row.verdict != "unseen" for row in known):
            alike.setdefault((known[0].role, cells), []).append(max(known, key=_weight))
    worst = sorted(alike.items(), key=lambda item: _weight(max(item[1], key=_weight)), reverse=True)
    return tuple(
        (f"{struck_words(name, of[0].mode)} {', '.join(mode_of(row) for row in of)}", *cells)
        for (name, cells), of in worst
    )


def _weight(row: FaultRow) -> tuple[object, ...]:
    return row.verdict == "lasting", row.gravity, row.verdict == "blink", row.weight
