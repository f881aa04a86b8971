"""Every single fault of a topology for people: what lasts, what blinks, what nobody sees.

In: a frozen `VariantStudy` (or `PairRow`s) and the scenario. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sim.limits.findings import first_few, grouped
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Para, Points, Table
from sim.report.lead import by_rates, called, limit_counts
from sim.report.rowtext import area, how_long, instead, state_words, title, together, whose
from sim.report.words import counted, harmless, listed, plain, seconds
from sim.scenario.scenario import Scenario
from sim.study.hidden import LatentRow
from sim.study.rows import FaultRow
from sim.study.study import VariantStudy

HEADS = {
    "lasting": ("fault", "how many", "state", "how long", "area", "supplier", "regions"),
    "blink": ("fault", "how many", "frames not lit", "grade", "area", "supplier", "regions"),
}
KINDS = (
    (False, "nothing arrives, so that a backup can notice"),
    (True, "a valid signal arrives, so that no backup notices"),
)


def faults_blocks(studies: Sequence[VariantStudy], scenario: Scenario) -> Blocks:
    """The whole report, for one topology of each group asked for."""
    found: list[Block] = [Heading(f"{scenario.title}: every single fault", 1)]
    for study in studies:
        found += _study(study)
    if any(row.flashes > 3 for study in studies for row in study.rows):
        found.append(Para(FLASHING, warning=True))
    return (*found, Heading("Cautions"), CAUTIONS)


def _study(study: VariantStudy) -> Iterator[Block]:
    yield Heading(f"Wall group {study.variant.group}, {called(study)}")
    if not study.can_be_built:
        yield Para(f"It cannot be built: {'; '.join(map(harmless, study.reasons))}.")
        return
    if study.modes:
        yield only_modes(sorted(study.modes))
    for each in study.serious:
        text = f"Serious finding of `staylit check`: {plain(each.subject)}: {harmless(each.text)}."
        yield Para(text, warning=True)
    yield Para(" ".join(lead_of(study)))
    yield from _section(study.rows, "lasting", "Lasting")
    yield from _section(study.rows, "blink", "Blinks")
    yield from _unseen(study)
    yield from _notes(study)


def lead_of(study: VariantStudy) -> tuple[str, str, str]:
    """What it comes to in three sentences: the faults, the limits, the dark time."""
    counts = {v: study.count(v) for v in ("lasting", "blink", "unseen")}
    total = sum(counts.values())
    return (
        f"Of {counted(total, 'single fault')}, {grouped(counts['lasting'])} leave something not "
        f"lit, lasting; {grouped(counts['blink'])} blink; {grouped(counts['unseen'])} are seen by "
        f"nobody, {grouped(study.latent_count)} of these being latent.",
        f"Limits: {limit_counts(study)}.",
        f"Dark time to be expected in a show: {seconds(study.dark)} wall-seconds, by "
        f"{by_rates([study])}, for faults that begin in the show.",
    )


def _section(rows: Sequence[FaultRow], verdict: str, word: str) -> Iterator[Block]:
    for valid, why in KINDS:
        found = [row for row in rows if row.verdict == verdict and row.valid == valid]
        if found:
            yield Heading(f"{word}: {why}", 3)
            head = HEADS[verdict]
            wide = len(head) - (not any(row.regions for row in rows))
            made = tuple(line[:wide] for line in _lines(found))
            yield Table(
                head[:wide], made, frozenset({1}), spare=frozenset({len(HEADS[verdict]) - 1})
            )


def _lines(rows: Iterable[FaultRow]) -> Iterator[tuple[str, ...]]:
    for name, of, cells in together(rows, _cells):
        yield (name + _flashes(of), *cells)


def _flashes(rows: Iterable[FaultRow]) -> str:
    return " (flashes)" if any(row.flashes > 3 for row in rows) else ""


def _cells(row: FaultRow) -> tuple[str, ...]:
    return (
        str(row.count), state_words(row), how_long(row), area(row), whose(row),
        first_few([harmless(name) for name in row.regions], 2) or "-",
    )  # fmt: skip


def _unseen(study: VariantStudy) -> Iterator[Block]:
    found = [row for row in study.rows if row.verdict == "unseen"]
    if not found:
        return
    hidden: dict[str, list[LatentRow]] = {}
    for each in study.latents:
        hidden.setdefault(each.name, []).append(each)
    yield Heading("Seen by nobody", 3)
    latent = sorted(
        (row for row in found if _key(row) in hidden),
        key=lambda row: max(each.gravity for each in hidden[_key(row)]),
        reverse=True,
    )
    if latent:
        yield Para(
            "These are latent: some other thing that dies, or cable that is cut, then leaves more "
            "not lit than it would alone. Monitor or test them."
        )
        made = together(latent, lambda row: _hidden(row, hidden[_key(row)]))
        rows = tuple((name, *cells) for name, _, cells in made)
        yield Table(
            ("fault", "how many", "supplier", "until this strikes", "not lit then"),
            rows,
            frozenset({1}),
        )
    rest = [row for row in found if _key(row) not in hidden]
    if rest:
        names = [f"{name} ({of[0].count})" for name, of, _ in together(rest, _count)]
        yield Para(
            "These cost nothing here, neither alone nor with one more thing dead or cut: "
            f"{'; '.join(names)}."
        )


def _key(row: FaultRow) -> str:
    """The name that a latent row has for it."""
    return f"{row.role} {row.mode}"


def _count(row: FaultRow) -> tuple[str, ...]:
    return (str(row.count),)


def _hidden(row: FaultRow, of: Sequence[LatentRow]) -> tuple[str, ...]:
    worst = max(of, key=lambda latent: latent.gravity)
    hidden = sum(latent.count for latent in of)
    return (
        str(row.count) if hidden >= row.count else f"{hidden} of {row.count}",
        whose(row),
        _named(worst.second),
        instead(worst.together_states, worst.alone_states),
    )


def _named(name: str) -> str:
    before, _, mode = name.rpartition(" ")
    return f"{plain(before)} {mode}"


HOW_MANY = (
    "how many: the like things, circuits, routes or choices that a line is about. Each fault "
    "that the line names may strike each of them, so that a line with two faults counts twice "
    "in the totals at the top.",
    "regions: left out where a line has no room for them; --format csv has them.",
    "area: all that is not lit, in whatever state, as a part of the group's pixels: once all "
    "has settled for what lasts, at any time for a blink; from the least to the most over "
    "these faults and over the ranges of the timings.",
    "state, with shares: each cell counted once, in its worst state.",
)
OF_BLINKS = (
    "frames not lit: for each state those of the one cell that is in it longest, least to most "
    "over these faults, the moment at which they strike and the ranges of the timings. The "
    "rest of the area may lose fewer.",
    "grade: the weakest of the timings that matter for a blink (measured, claim or guess); "
    "-: none does.",
)


def _notes(study: VariantStudy) -> Iterator[Block]:
    """How to read the tables that are there, and what holds for some of their lines only."""
    there = {row.verdict for row in study.rows}
    texts = (
        *(HOW_MANY if there else ()),
        *(OF_BLINKS if "blink" in there else ()),
        *_late(study.rows),
        *_races(study.rows),
        *_pending(study.rows),
    )
    if texts:
        yield Points(texts)


def _late(rows: Iterable[FaultRow]) -> Iterator[str]:
    if any(row.verdict == "lasting" and row.pending for row in rows):
        yield (
            "may outlast the show: a start or a wait that ends, but in some cases only after the "
            "show does."
        )


def _races(rows: Iterable[FaultRow]) -> Iterator[str]:
    raced: dict[str, list[str]] = {}
    for row in rows:
        for race in row.races:
            raced.setdefault(race, []).append(title(row))
    for race, names in raced.items():
        one, _, other = race.partition(" and ")
        yield (
            f"Race: {plain(one)} and {plain(other)}; which is first depends on where in their "
            f"ranges the timings lie, so that the span is no bound for {first_few(names, 4)}."
        )


def _pending(rows: Iterable[FaultRow]) -> Iterator[str]:
    late: dict[str, list[str]] = {}
    for row in rows:
        for timer in row.pending:
            late.setdefault(plain(timer), []).append(title(row))
    for timer, names in late.items():
        yield (
            f"Not ended when the show does: the start or wait of {timer}, "
            f"after {first_few(names, 4)}."
        )


def only_modes(modes: Sequence[str]) -> Para:
    only = f"the mode{'s' * (len(modes) > 1)} {listed(modes)}"
    return Para(f"Only faults of {only} were worked out; all else here is about these.")
