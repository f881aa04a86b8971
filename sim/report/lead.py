"""The first paragraph of a comparison: what it comes to, in words that a client understands.

In: a frozen `Comparison`. Out: sentences, each made from what the rows hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from sim.limits.findings import first_few
from sim.report.rowtext import SOME_TIMINGS, UNLOCKED
from sim.report.words import (
    counted,
    harmless,
    listed,
    seconds,
    share,
    struck_words,
    unit_words,
)
from sim.study.promises import MET, NOT, OPEN, PERHAPS
from sim.study.rows import FaultRow
from sim.study.study import Comparison, VariantStudy

SENDS = {
    "blanked": "black", "stuck": "a standing", "corrupt": "a torn", "stale": "a wrong",
}  # fmt: skip
ALIKE = 1.5
"""Dark times are told apart only from this factor on: the rates behind them are placeholders."""


def lead(compared: Comparison) -> tuple[str, str]:
    """Two paragraphs: what is promised and what no backup helps against; what goes silent."""
    if not compared.buildable:
        return "None of these topologies can be built with this equipment.", ""
    first = (*_built(compared), *_promises(compared), *_fooled(compared))
    first = (*first, *_unsound(compared))
    return " ".join(first), " ".join((*_silent(compared), *_darkness(compared)))


def answer(compared: Comparison) -> tuple[str, ...]:
    """The lead in three sentences at most: what is promised, what takes all, what to expect."""
    if not compared.buildable:
        return lead(compared)[:1]
    promised = [*_promises(compared), *_built(compared)]
    takes_all = [*_silent(compared), *_fooled(compared)]
    kinds = (promised, takes_all, [*_darkness(compared)])
    return tuple(said for kind in kinds for said in kind[:1])


def called(study: VariantStudy) -> str:
    """The label of a topology, in quotes if it would come apart in a list."""
    label = harmless(study.variant.label)
    return f'"{label}"' if "," in label else label


def _built(compared: Comparison) -> Iterator[str]:
    out = [called(study) for study in compared.studies if not study.can_be_built]
    if out:
        yield f"{listed(out)} cannot be built with this equipment."


def _unsound(compared: Comparison) -> Iterator[str]:
    """The topologies that can be built, but not work as planned."""
    found = [s for s in compared.buildable if s.serious]
    if found:
        names = [f"{called(s)} ({len(s.serious)})" for s in found]
        yield f"Serious findings of `staylit check`, named below, stand against {listed(names)}."


def _promises(compared: Comparison) -> Iterator[str]:
    offered = compared.offered
    total = len([v for v in offered.verdicts if v.verdict != OPEN])
    if not total or not offered.can_be_built:
        return
    others = [s for s in compared.buildable if s is not offered]
    better = [called(s) for s in others if _merit(s) > _merit(offered)]
    yield (
        f"The topology offered, {called(offered)}, {_promise(offered, total)}{_scope(offered)}; "
        + (f"{listed(better)} would do better." if better else "none of the others does better.")
    )


def left_out_words(numbers: Sequence[int], total: int) -> str:
    """What limits on a single dead or cut do not judge; `numbers`: which limits of how many."""
    which = "The limits" if len(numbers) == total else f"Limits {listed(map(str, numbers))}"
    verb, judge = "", "judge"
    if len(numbers) == 1:
        which = "The limit" if total == 1 else f"Limit {numbers[0]}"
        verb, judge = "s", "judges"
    return (
        f"{which} speak{verb} of a single dead thing or cut cable only and {judge} nothing else: "
        "no circuit that trips, nothing that comes and goes, and no black, standing, torn or "
        "wrong picture that arrives in good order"
    )


def _merit(study: VariantStudy) -> tuple[int, int]:
    """How many limits are met, and how many are not broken for certain."""
    return kept(study), -sum(verdict.verdict == NOT for verdict in study.verdicts)


def _scope(study: VariantStudy) -> str:
    """What the limits speak of, where all speak only of a dead thing or a cut cable."""
    judged = [v for v in study.verdicts if v.verdict != OPEN]
    return " on a single dead thing or cut cable" if all(v.narrow for v in judged) else ""


def _promise(study: VariantStudy, total: int) -> str:
    """`meets 1, perhaps meets 1 and does not meet 1 of the 3 stated limits`."""
    words = ((MET, "meets"), (PERHAPS, "perhaps meets"), (NOT, "does not meet"))
    found = [(sum(v.verdict == mark for v in study.verdicts), verb) for mark, verb in words]
    some = [(number, verb) for number, verb in found if number]
    if len(some) == 1:
        if total == 1:
            return f"{some[0][1]} the one stated limit"
        if some[0][1] == "does not meet":
            return "meets neither stated limit" if total == 2 else f"meets none of {total} limits"
        return f"{some[0][1]} {'both' if total == 2 else f'all {total}'} stated limits"
    return listed([f"{verb} {n}" for n, verb in some]) + f" of the {total} stated limits"


def kept(study: VariantStudy) -> int:
    """How many limits are met for certain."""
    return sum(verdict.verdict == MET for verdict in study.verdicts)


def in_all(studies: Iterable[VariantStudy], valid: bool) -> list[FaultRow]:
    """Rows of the first study whose like takes the whole picture in every one of them."""
    found = [study.spoilers(valid) for study in studies]
    names = [{row.name for row in rows} for rows in found]
    return [row for row in found[0] if all(row.name in of for of in names)] if found else []


def _fooled(compared: Comparison) -> Iterator[str]:
    """What takes the whole picture with a valid signal, so that no backup notices."""
    common = [row for row in in_all(compared.buildable, valid=True) if row.spoils_all]
    which = "Every topology here" if len(compared.buildable) > 1 else called(compared.buildable[0])
    for number, (roles, sent) in enumerate(_senders(common)):
        names = listed([unit_words(role) for role in roles])
        if number:
            yield f"The same goes for {names}: {_pictures(sent)}."
            continue
        them = "it sends" if len(roles) == 1 else "one of them sends"
        yield (
            f"{which} still hangs on {names}: if {them} {_pictures(sent)}, no backup notices, "
            "because a valid signal arrives."
        )


def _pictures(sent: list[str]) -> str:
    """`black, a standing or a wrong picture`."""
    return listed(sent, "or") + ("" if sent[-1] == "black" else " picture")


def _senders(rows: Iterable[FaultRow]) -> list[tuple[list[str], list[str]]]:
    """Roles that can send the same things, with what they send."""
    by_role: dict[str, list[str]] = {}
    for row in rows:
        if row.mode in SENDS:
            by_role.setdefault(row.role, []).append(SENDS[row.mode])
    alike: dict[tuple[str, ...], list[str]] = {}
    for role, sent in by_role.items():
        alike.setdefault(tuple(dict.fromkeys(sorted(sent, key=_order))), []).append(role)
    made = [(roles, list(sent)) for sent, roles in alike.items()]
    return sorted(made, key=lambda pair: -len(pair[1]))


def _order(sent: str) -> int:
    return list(SENDS.values()).index(sent)


def _silent(compared: Comparison) -> Iterator[str]:
    """What leaves nothing lit by going silent: in every topology, and in which ones besides."""
    built = compared.buildable
    common = [row for row in in_all(built, valid=False) if _silences(row)]
    names = {row.name for row in common}
    if common:
        roles = _named(common)
        yield f"In every one of them one failure takes the whole picture: {first_few(roles, 8)}."
    own = {called(study): _roles(study, names) for study in built}
    besides = [f"{label} ({_number(roles)})" for label, roles in own.items() if roles]
    free = [label for label, roles in own.items() if not roles]
    if besides:
        more = f"; none in {listed(free)}" if free else ""
        yield f"Further kinds of thing that take the whole picture: {listed(besides)}{more}."


def _number(roles: Sequence[str]) -> str:
    """How many, and how many of them with some timings only."""
    some = sum(role.endswith(f"({SOME_TIMINGS})") for role in roles)
    if some == len(roles):
        return f"{some} {SOME_TIMINGS}"
    return str(len(roles)) + (f", {some} of them {SOME_TIMINGS}" if some else "")


def _silences(row: FaultRow) -> bool:
    """Whether it takes the picture away, not only off the reference, which cameras alone see."""
    return row.states != UNLOCKED


def _roles(study: VariantStudy, without: set[str]) -> list[str]:
    rows = [r for r in study.spoilers(False) if _silences(r) and r.name not in without]
    return _named(rows)


def _named(rows: Sequence[FaultRow]) -> list[str]:
    """Kinds of thing, each once; what takes the whole picture with some timings only is marked."""
    sure = {row.role: True for row in rows if row.spoils_all}
    words = {row.role: struck_words(row.role, row.mode, True) for row in rows}
    return [word + ("" if role in sure else f" ({SOME_TIMINGS})") for role, word in words.items()]


def _darkness(compared: Comparison) -> Iterator[str]:
    if len(compared.buildable) < 2:
        return
    by_dark = sorted(compared.buildable, key=lambda study: study.dark)
    least, most = by_dark[0], by_dark[-1]
    alike = [study for study in by_dark if study.dark <= ALIKE * least.dark]
    span = _wall_seconds(least, alike[-1])
    by = "By " + by_rates(compared.buildable)
    if len(alike) == len(by_dark):
        yield f"{by}, dark time is about alike in all of them ({span})."
        return
    about = ", about alike" if len(alike) > 1 else ""
    yield (
        f"{by}, least dark time is to be expected with "
        f"{listed([called(study) for study in alike])} ({span}{about}), most with {called(most)} "
        f"({seconds(most.dark)})."
    )


def by_rates(studies: Sequence[VariantStudy]) -> str:
    """What kind of failure rates the dark times of these rest on."""
    dark, guessed = sum(s.dark for s in studies), sum(s.guessed for s in studies)
    if not dark or guessed == dark:
        return "placeholder failure rates"
    if not guessed:
        return "the failure rates stated for this rig"
    part = share(Fraction(guessed) / Fraction(dark))
    return f"failure rates, {part} of it by placeholders"


def _wall_seconds(least: VariantStudy, most: VariantStudy) -> str:
    low, high = seconds(least.dark), seconds(most.dark)
    return f"{low if low == high else f'{low} to {high}'} wall-seconds a show"


def limit_counts(study: VariantStudy) -> str:
    """`2 met, 1 not met`."""
    order = (MET, PERHAPS, NOT, OPEN)
    found = {mark: sum(v.verdict == mark for v in study.verdicts) for mark in order}
    return ", ".join(f"{n} {mark}" for mark, n in found.items() if n) or "no limit stated"


__all__ = ["answer", "called", "counted", "in_all", "kept", "lead", "limit_counts"]
