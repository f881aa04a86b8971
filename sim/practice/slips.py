"""Action slips: for each group of faults that look alike what is seen, what to do, what never.

In: a `Site`, a `Library` of its rig, hazards, a `Laboratory` for each wall group. Out: frozen
`Slip`s, by likelihood times damage. Chances are given that one of the faults of the slip is what is
wrong; likelihoods are mean numbers of strikes in a show, damages wall-seconds not lit that one
strike is expected to cost the show if nobody acts. What is tried, is tried at the place that costs
most, under the likeliest faults there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sim.practice.aftermath import Aftermath, Aftermaths, widest
from sim.practice.causes import Cause, singles, total
from sim.practice.kindred import Kin, Seen, kindred, kinds_of, role_of, seen_in, where_in
from sim.practice.library import Library
from sim.practice.remedies import Site, choosing, mending, restarting
from sim.practice.steps import (
    Harm,
    Order,
    Step,
    first_of,
    harms_of,
    in_order,
    second_of,
    step_of,
)
from sim.practice.trials import Bench
from sim.practice.weighing import NONE, table
from sim.risk.striking import Hazard
from sim.study.laboratory import Laboratory

MOST_TRIED = 8
"""So many of the faults of a place are tried, the likeliest."""
MOST_ROLES = 3
"""Of what a shared cause strikes at most so many are named."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """Faults of one kind: `role`, `mode`, `detail` (what was moved to) in `group`; `shared`: the
    cause that strikes all of it at once, "" if none; `names` of all; their chance, whether it rests
    on a placeholder, whose doing; `recovers`: frames until what is lit again is so (None: nothing
    of it comes back); `lasts`: whether some of it does not.
    """

    role: str
    mode: str
    detail: str
    group: str
    shared: str
    names: tuple[str, ...]
    chance: float
    guessed: bool
    doing: str
    recovers: tuple[int, int] | None
    lasts: bool


@dataclass(frozen=True, slots=True)
class Slip:
    """`where`: what may be struck, for each place; `seen`, `alarms` and `reports` that say
    otherwise than usual; `suspects`, the likeliest first; `likelihood`, `damage`; `recovers`,
    `lasts` as of suspects, over all of them; `raced`: frames may lie outside; `flashes`: it comes
    and goes; `tried`: of the faults at the place `at`, so many were tried; `first`, `second`,
    `nevers`; `cautions` of both steps.
    """

    number: int
    where: tuple[str, ...]
    seen: tuple[Seen, ...]
    alarms: tuple[str, ...]
    reports: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    likelihood: float
    damage: float
    recovers: tuple[int, int] | None
    lasts: bool
    raced: bool
    flashes: bool
    at: str
    tried: tuple[int, int]
    first: Step
    second: Step
    nevers: tuple[Harm, ...]
    cautions: tuple[str, ...]

    @property
    def weight(self) -> float:
        """Wall-seconds not lit that these faults are expected to cost a show."""
        return self.likelihood * self.damage

    @property
    def strikes(self) -> tuple[str, ...]:
        """The names of all faults that this slip is for."""
        return tuple(name for suspect in self.suspects for name in suspect.names)

    @property
    def unseen(self) -> bool:
        """Whether nothing shows and nothing tells."""
        return not self.seen and not self.alarms


def slips(
    site: Site,
    library: Library,
    hazards: Sequence[Hazard],
    laboratories: Sequence[Laboratory],
    told: Callable[[str], None] = lambda _: None,
) -> tuple[Slip, ...]:
    """Every single fault in exactly one slip; the slip that costs a show most comes first.
    `laboratories`: of the wall groups that count; `told`: is told which slip is worked out.
    """
    meant = [h for h in hazards if any(lab.concerns(s) for s in h.strikes for lab in laboratories)]
    others = {hazard.key for hazard in meant} if len(laboratories) < len(site.rig.groups) else None
    every = [c for c in singles(library, hazards) if others is None or c.name in others]
    aftermaths, bench, made = Aftermaths(laboratories), Bench(site), []
    for kin in kindred(every, site.desk):
        told(kin.places[0][0].name)
        made.append(_slip(kin, aftermaths, bench))
    ordered = sorted(made, key=lambda slip: (-slip.weight, -slip.likelihood, slip.where))
    return tuple(_numbered(slip, number) for number, slip in enumerate(ordered, 1))


def _numbered(slip: Slip, number: int) -> Slip:
    return replace(slip, number=number)


def _slip(kin: Kin, aftermaths: Aftermaths, bench: Bench) -> Slip:
    found = {cause.name: aftermaths.of(cause) for cause in kin.causes}
    place = max(kin.places, key=lambda causes: _damage(causes, found))
    tried = place[:MOST_TRIED]
    lasts = any(made.lasts for made in found.values())
    first, second, nevers = _steps(tried, bench, alone=not lasts)
    spans = [made.recovers for made in found.values() if made.recovers is not None]
    shown = place[0].look.shown
    return Slip(
        number=0,
        where=where_in(kin),
        seen=seen_in(kin, bench.site.desk),
        alarms=tuple(dict.fromkeys(alarm.text for alarm in shown.alarms)),
        reports=tuple(each.text for each in shown.reports if each.says not in ("yes", "unknown")),
        suspects=tuple(_suspects(kin, found, bench.site)),
        likelihood=kin.mass,
        damage=_damage(kin.causes, found),
        recovers=widest(spans),
        lasts=lasts,
        raced=any(made.raced for made in found.values()),
        flashes=any(made.flashes for made in found.values()),
        at=place[0].name,
        tried=(len(tried), len(place)),
        first=first,
        second=second,
        nevers=nevers,
        cautions=tuple(dict.fromkeys((*first.cautions, *second.cautions))),
    )


def _damage(causes: Sequence[Cause], found: Mapping[str, Aftermath]) -> float:
    """Mean wall-seconds of one strike of these causes."""
    lost = sum(cause.weight * found[cause.name].damage for cause in causes)
    return lost / total(causes)


def _suspects(kin: Kin, found: Mapping[str, Aftermath], site: Site) -> Iterator[Suspect]:
    alike: dict[object, list[Cause]] = {}
    for cause in kin.causes:
        alike.setdefault((kinds_of(cause, site.rig), cause.hazards[0].cause), []).append(cause)
    for of in sorted(alike.values(), key=lambda of: (-total(of), of[0].name)):
        group, role, mode, detail = kinds_of(of[0], site.rig)[0]
        spans = [s for cause in of if (s := found[cause.name].recovers) is not None]
        hazard = of[0].hazards[0]
        shared = hazard.key not in [strike.name for strike in hazard.strikes]
        yield Suspect(
            role=_all_of(of[0], site) if shared else role,
            mode=mode,
            detail=detail,
            group=group,
            shared=hazard.key.rpartition(": ")[0] or hazard.key if shared else "",
            names=tuple(cause.name for cause in of),
            chance=total(of) / kin.mass,
            guessed=any(each.guessed for cause in of for each in cause.hazards),
            doing=hazard.cause,
            recovers=widest(spans),
            lasts=any(found[cause.name].lasts for cause in of),
        )


def _all_of(cause: Cause, site: Site) -> str:
    """What a shared cause strikes, by roles: all of a few, else how many things."""
    names = list(dict.fromkeys(fault.thing for fault in cause.faults))
    roles = list(dict.fromkeys(role_of(name, site.rig) for name in names))
    return " and ".join(roles) if len(roles) <= MOST_ROLES else f"{len(names)} things"


# ---- what to do ----------------------------------------------------------------------------------


def _steps(
    causes: Sequence[Cause], bench: Bench, alone: bool
) -> tuple[Step, Step, tuple[Harm, ...]]:
    """The first act, the second, and what does harm."""
    site, groups = bench.site, _groups(causes, bench.site)
    struck = dict.fromkeys(fault.thing for cause in causes for fault in cause.faults)
    mends, tempts = mending(struck, site), restarting(groups, site)
    idle = table(bench, causes, ())
    known = any(not cause.look.unseen or cause.look.shown.alarms for cause in causes)
    open_ = known and any(tried.after for tried in idle.before)
    moved = {f.choice for cause in causes for f in cause.faults if f.mode == "moved"}
    ways = (*mends, *choosing(groups, site, moved), *tempts) if open_ else tempts
    found = table(bench, causes, dict.fromkeys(ways), alone=alone)
    first = first_of(found) if open_ else None
    able = [way for way in found.tried if found.saved(way) > NONE] if open_ else []
    rest = [way for way in dict.fromkeys((*mends, *able)) if way != first]
    later = table(bench, causes, rest, (first,) if first else (), alone)
    order = in_order(Order(first, found, second_of(later), later))
    nevers = harms_of(found, (order.first, order.second)) if known else ()
    return step_of(order.found, order.first), step_of(order.later, order.second), nevers


def _groups(causes: Iterable[Cause], site: Site) -> tuple[str, ...]:
    """The wall groups of what is seen, else of what is struck."""
    of = {wall: name for name, group in site.rig.groups.items() for wall in group.walls}
    seen = {
        of[site.desk.patches[spot].wall]
        for cause in causes
        for spot in (*cause.look.shown.spots, *cause.look.blinked)
    }
    struck = {s.group for cause in causes for h in cause.hazards for s in h.strikes if s.group}
    return tuple(name for name in site.rig.groups if name in (seen or struck))
