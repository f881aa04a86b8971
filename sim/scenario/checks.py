"""What no single entry can tell: whether the entries of a scenario file fit together.

In: a file whose entries are valid by themselves (some may have been left out because they are
not), and where each path stands. Out: problems in five parts, none of them twice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from sim.bounds import MOST_CABINETS
from sim.errors import InputError, Problem, nearest_name
from sim.scenario.entries import ChainsEntry, WallEntry
from sim.scenario.messages import Path
from sim.scenario.models import ScenarioFile
from sim.scenario.risk_entries import ContractEntry
from sim.scenario.shape import chains_of, wall_at, wall_size, walls_of

Span = tuple[int, int, int, int]
"""x, y, width, height in pixels."""
Found = Iterator[Problem]


@dataclass(frozen=True, slots=True)
class Checked:
    """A file under check. `left_out`: entries that were not valid.

    Nothing follows from their absence.
    """

    file: ScenarioFile
    place: Callable[[Path], str]
    left_out: frozenset[Path] = frozenset()

    def wrong(
        self, path: Path, found: str, allowed: str = "", nearest: str = "", todo: str = ""
    ) -> Problem:
        return Problem(self.place(path), found, allowed, nearest, todo)

    def whole(self, section: str) -> bool:
        """Whether every entry of a section is there."""
        return all(path[0] != section for path in self.left_out)


def show(on: Checked) -> Found:
    """Breaks and critical moments lie within the show."""
    entry = on.file.show
    if ("show",) in on.left_out:
        return
    if entry.length < entry.rate.frame:
        yield on.wrong(
            ("show", "length"),
            "a show shorter than one frame",
            "at least one frame",
            todo="write the length of the show, as 3 h",
        )
        return
    if entry.length > entry.rate.frame * 10**10:
        yield on.wrong(
            ("show", "length"),
            "a show of more than 10 000 000 000 frames",
            "some years",
            todo="check the unit",
        )
    for key, periods in (("breaks", entry.breaks), ("critical", entry.critical)):
        for number, period in enumerate(periods):
            if not 0 <= period.begin < period.end <= entry.length:
                yield on.wrong(
                    ("show", key, number),
                    "a period that does not lie in the show",
                    "from before to, both within the show",
                    todo="correct from and to (time codes count from show.start)",
                )


def circuits(on: Checked) -> Found:
    """No circuit feeds itself."""
    feeds = {name: entry.fed_by for name, entry in on.file.circuits.items()}
    try:
        TopologicalSorter(feeds).prepare()
    except CycleError as cycle:
        name = next(name for name in feeds if name in cycle.args[1])
        yield on.wrong(
            ("circuits", name, "from"),
            f"{name} feeds itself, directly or through others",
            "circuits that lead back to the mains",
            todo="take one of them out of from",
        )


def names(on: Checked) -> Found:
    """Things that can fail go by their names, so no two sections may declare the same one."""
    file = on.file
    taken: dict[str, str] = {}
    for section in ("circuits", "sources", "references", "groups", "controls"):
        for name in getattr(file, section):
            if name in taken:
                yield on.wrong(
                    (section, name),
                    f"{name!r} is also declared under {taken[name]}",
                    "each name once",
                    todo="rename one of the two",
                )
            taken.setdefault(name, section)


def areas(on: Checked) -> Found:
    """Walls, regions and audience areas share their names in limits."""
    file = on.file
    taken = {"wall": "what a limit may hold for", "group": "what a limit may hold for"}
    for section in ("walls", "regions", "audience"):
        for name in getattr(file, section):
            if name in taken:
                yield on.wrong(
                    (section, name),
                    f"{name!r} is already {taken[name]}",
                    "each name once",
                    todo="rename it",
                )
            taken.setdefault(name, f"declared under {section}")


def currencies(on: Checked) -> Found:
    """All prices in one currency."""
    first = ""
    for path, code in _codes(on.file):
        first = first or code
        if code != first:
            yield on.wrong(
                path,
                f"a price in {code} beside prices in {first}",
                first,
                todo=f"write it in {first}: nothing here knows a rate of exchange",
            )


def _codes(file: ScenarioFile) -> Iterator[tuple[Path, str]]:
    """Every amount of money of a file: where it stands, and its currency."""
    for name, entry in file.equipment.items():
        for key in ("price", "price_per_metre"):
            if price := getattr(entry, key):
                yield ("equipment", name, key), price[1]
    yield from _dues(file.contract) if file.contract else ()


def _dues(contract: ContractEntry) -> Iterator[tuple[Path, str]]:
    for key in ("fee", "deductible", "cover", "cap"):
        if amount := getattr(contract, key):
            yield ("contract", key), amount[1]
    for number, clause in enumerate(contract.clauses):
        path: Path = ("contract", "clauses", number)
        paid = [((*path, "steps", at, "pays"), step.pays) for at, step in enumerate(clause.steps)]
        for where, pays in [((*path, "pays"), clause.pays), *paid]:
            if isinstance(pays, tuple):
                yield where, pays[1]


def walls(on: Checked) -> Found:
    """Every wall's chains take each cabinet once; the walls together are not absurdly many."""
    total = sum(wall.grid[0] * wall.grid[1] for wall in on.file.walls.values())
    if total > MOST_CABINETS:
        yield on.wrong(
            ("walls",),
            f"{total} cabinets on all walls together",
            f"up to {MOST_CABINETS}",
            todo="split the rig into several scenarios",
        )
        return
    for name, wall in on.file.walls.items():
        for key, entry in (("chains", wall.chains), ("power", wall.power)):
            if entry is not None:
                yield from _chains(on, ("walls", name, key), entry, wall)


def _chains(on: Checked, path: Path, entry: ChainsEntry, wall: WallEntry) -> Found:
    try:
        chains_of(entry, wall)
    except InputError as error:
        for said in error.problems:
            todo = said.todo or "name each cabinet once, or use a way as by column"
            yield on.wrong(path, said.found, said.allowed, said.nearest, todo)


def membership(on: Checked) -> Found:
    """Every wall stands in exactly one group, every group has walls."""
    file = on.file
    times = Counter(wall for group in file.groups for wall in walls_of(file, group))
    complete = on.whole("groups") and all(walls_of(file, group) for group in file.groups)
    for group, entry in file.groups.items():
        if not walls_of(file, group) and on.whole("walls"):
            yield on.wrong(
                ("groups", group),
                "a group without walls",
                "the names of its walls",
                nearest_name(group, file.walls),
                "add walls: [...]",
            )
        for wall in dict.fromkeys(entry.walls):
            if times[wall] > 1:
                times[wall] = 1
                yield on.wrong(
                    ("groups", group, "walls"),
                    f"wall {wall!r} is named more than once",
                    "each wall in one group",
                    todo="take it out of one of them",
                )
    for wall in file.walls:
        if not times[wall] and complete:
            yield on.wrong(
                ("walls", wall),
                f"wall {wall!r} belongs to no group",
                "each wall in one group",
                todo=f"add it to the walls of a group, or name a group {wall}",
            )


def standing(on: Checked) -> Found:
    """Mirrored walls have one size; other walls of a group do not lie over each other."""
    file = on.file
    for group, entry in file.groups.items():
        known = [name for name in walls_of(file, group) if name in file.walls]
        sizes = {wall_size(file.walls[name]) for name in known}
        if entry.mirrored and len(sizes) > 1:
            yield on.wrong(
                ("groups", group, "mirrored"),
                "mirrored walls of different sizes in pixels",
                "walls of one size",
                todo="correct a wall, or make groups of them",
            )
        if not entry.mirrored:
            yield from _overlaps(on, group, known)


def _overlaps(on: Checked, group: str, known: list[str]) -> Found:
    spans = [_span(on.file, group, name) for name in known]
    for number, other in sorted(_meeting(spans)):
        yield on.wrong(
            ("walls", known[number]),
            f"wall {known[number]!r} lies over wall {known[other]!r} in the picture",
            "walls side by side, or mirrored: yes",
            todo="write at: x, y in pixels",
        )


def _meeting(spans: Sequence[Span]) -> Iterator[tuple[int, int]]:
    """Pairs of rectangles that have pixels in common, the later one first. Looked for along the
    side on which fewer of them begin together, among those that have not ended there.
    """
    along = max((0, 1), key=lambda side: len({span[side] for span in spans}))
    still: list[int] = []
    for number in sorted(range(len(spans)), key=lambda each: spans[each][along]):
        begin = spans[number][along]
        still = [each for each in still if spans[each][along] + spans[each][along + 2] > begin]
        for each in still:
            if _meet(spans[number], spans[each]):
                yield max(number, each), min(number, each)
        still.append(number)


def _span(file: ScenarioFile, group: str, name: str) -> Span:
    return (*wall_at(file, group, name), *wall_size(file.walls[name]))


def _meet(one: Span, other: Span) -> bool:
    return all(
        max(one[i], other[i]) < min(one[i] + one[i + 2], other[i] + other[i + 2]) for i in (0, 1)
    )


def check(on: Checked, more: Iterable[Callable[[Checked], Found]] = ()) -> Found:
    """All problems that these checks, and `more` of them, find, one after the other."""
    rules = (show, circuits, names, areas, currencies, walls, membership, standing, *more)
    return (problem for rule in rules for problem in rule(on))
