"""How one technician fares with one fault of a show, once he is free: goes, finds, mends.

In: an incident, the crew, breaks, the show's length, when the control link is lost; all flicks from
the start of the show. Out: frozen values. Nothing here waits for anything shared: see `response`.

- A technician is bound from his turn to the end of the work, waiting for a break included. Where
  no break left is long enough, nobody sets out.
- Work at a place that can be reached only in breaks must be finished within one: the first, at or
  after arrival, in which all of it fits.
- A remote restart takes no travel, whatever its place; the link must stand throughout. When it is
  lost, somebody walks from then on and does the work there, also if the link comes back. A crew
  without a control link restarts nothing from afar.
- Who errs diagnoses and restarts a healthy unit first, then begins afresh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sim.rig.terms import Crew, Repair
from sim.risk.laws import draw
from sim.scenario.scenario import Stretch

REACHES = ("always", "in breaks", "after the show")
BYS = ("swap", "restart", "remote")
Lost = Sequence[tuple[int, int | None]]
"""When the control link does not stand: [from, to) in flicks, None: for good."""


# ---- what is mended, and when --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Incident:
    """A fault that somebody may mend.

    `at`: flick (negative: already so); `noticed`: flicks from max(at, 0) until somebody knows
    (None: never); `repair`: None if nobody can; `spare`: the stock that a swap takes from ("":
    none); `reach`: of its place (`REACHES`); `draws`: uniform numbers for travel, diagnose, fix;
    `wrong`: the one for whether a healthy unit is restarted first. All from 0 to below 1.
    """

    at: int
    noticed: int | None
    repair: Repair | None
    spare: str = ""
    reach: str = "always"
    draws: tuple[float, float, float] = (0.5, 0.5, 0.5)
    wrong: float = 0.5


NOT_NOTICED = "never noticed"
NOBODY = "nobody can mend it"
NO_TURN = "no technician free"
NO_WAY = "cannot be reached in time"
NO_SPARE = "no spare left"
TOO_LATE = "not finished in time"


@dataclass(frozen=True, slots=True)
class Mended:
    """How an incident went; flicks from the start, None for what is not before the end.

    `until`: the fault ends; `noticed`: somebody knows; `started`: a technician sets about it;
    `wrong`: he restarts a healthy unit; `walked`: to what he could have restarted from afar;
    `why`: not mended ("" if it is).
    """

    until: int | None = None
    noticed: int | None = None
    started: int | None = None
    wrong: int | None = None
    walked: bool = False
    why: str = ""


@dataclass(frozen=True, slots=True)
class Night:
    """What holds for all incidents of a show."""

    crew: Crew
    breaks: Sequence[Stretch]
    length: int
    lost: Lost


@dataclass(frozen=True, slots=True)
class Job:
    """An incident that somebody knows of at the flick `known`, with its times drawn (flicks);
    `far`: to be restarted over the control link.
    """

    known: int
    far: bool
    spare: str
    reach: str
    travel: int
    diagnose: int
    fix: int
    errs: bool

    @property
    def work(self) -> int:
        """Flicks of work: on what is at fault and, if he errs, on what is not."""
        return (self.diagnose + self.fix) * (2 if self.errs else 1)


@dataclass(frozen=True, slots=True)
class Visit:
    """What a technician does: free at `start`, has found the fault at `found` (None: he never gets
    there, and is free again at `end`), is done at `end`; `wrong`, `walked`: see `Mended`.
    """

    start: int
    found: int | None
    end: int
    wrong: int | None = None
    walked: bool = False


def night_of(crew: Crew, breaks: Sequence[Stretch], length: int, lost: Lost) -> Night:
    """What holds for all incidents of a show. Raises ValueError for numbers out of range."""
    if length < 1:
        raise ValueError(f"a show of {length} flicks: at least one")
    if crew.technicians < 0 or any(left < 0 for left in crew.spares.values()):
        raise ValueError(f"{crew.technicians} technicians, spares {crew.spares}: none or more")
    return Night(crew, breaks, length, lost)


def job_of(incident: Incident, night: Night) -> Job | Mended:
    """What there is to do; or how it goes, if nobody does anything. Raises ValueError."""
    if incident.reach not in REACHES:
        raise ValueError(f"reach {incident.reach!r}: one of {', '.join(REACHES)}")
    if incident.noticed is not None and incident.noticed < 0:
        raise ValueError(f"noticed {incident.noticed} flicks after: 0 or more, or None")
    known = None if incident.noticed is None else max(incident.at, 0) + incident.noticed
    if known is None or known >= night.length:
        return Mended(why=NOT_NOTICED)
    repair = incident.repair
    if repair is None:
        return Mended(noticed=known, why=NOBODY)
    if repair.by not in BYS:
        raise ValueError(f"repair by {repair.by!r}: one of {', '.join(BYS)}")
    laws = (repair.travel, repair.diagnose, repair.fix)
    travel, diagnose, fix = (draw(*it) for it in zip(laws, incident.draws, strict=True))
    spare = incident.spare if repair.by == "swap" else ""
    errs = incident.wrong < night.crew.wrong_unit
    far = repair.by == "remote" and night.crew.control != ""
    return Job(known, far, spare, incident.reach, travel, diagnose, fix, errs)


def told(job: Job | Mended, visit: Visit | None, lacks: bool, length: int) -> Mended:
    """How it went, as far as it was before the end of the show."""
    if isinstance(job, Mended):
        return job
    if visit is None:
        return Mended(noticed=job.known, why=NO_TURN)
    began = visit.found is not None or visit.end > visit.start
    done = visit.end < length and visit.found is not None and not lacks
    return Mended(
        until=visit.end if done else None,
        noticed=job.known,
        started=visit.start if began else None,
        wrong=visit.wrong if visit.wrong is not None and visit.wrong < length else None,
        walked=visit.walked,
        why="" if done else _reason(visit, lacks, length),
    )


def _reason(visit: Visit, lacks: bool, length: int) -> str:
    if visit.found is None:
        return NO_WAY
    return NO_SPARE if lacks and visit.found < length else TOO_LATE


# ---- what one technician does --------------------------------------------------------------------


def visit_of(job: Job, now: int, night: Night) -> Visit:
    """What a technician does who is free `now`."""
    if not job.far:
        return _at_place(job, now, night)
    end = now + job.work
    losses = [max(a, now) for a, b in night.lost if _cuts(a, b, now, end)]
    return _walk(job, now, min(losses), night) if losses else _work(job, now, now)


def _cuts(begin: int, end: int | None, start: int, stop: int) -> bool:
    """Whether the link is lost at `start` or before `stop`; what lasts no time does not count."""
    lasts = end is None or end > max(begin, start)
    return lasts and (begin <= start or begin < stop)


def _walk(job: Job, start: int, lost: int, night: Night) -> Visit:
    """Begin from afar, and go there from the flick `lost`; nobody errs twice."""
    wrong = start + job.diagnose
    erred = job.errs and wrong < lost
    visit = _at_place(replace(job, errs=False) if erred else job, lost, night)
    walked = visit.found is not None and lost < night.length
    return replace(visit, start=start, wrong=wrong if erred else visit.wrong, walked=walked)


def _at_place(job: Job, now: int, night: Night) -> Visit:
    begin = _begin(job.reach, now + job.travel, job.work, night.breaks)
    return Visit(now, None, now) if begin is None else _work(job, now, begin)


def _begin(reach: str, arrival: int, work: int, breaks: Sequence[Stretch]) -> int | None:
    """When work begins at a place, by when it can be reached."""
    if reach == "always":
        return arrival
    if reach == "after the show":
        return None
    begins = [(max(arrival, each.begin), each.end) for each in breaks]
    return min((at for at, end in begins if at < end and at + work <= end), default=None)


def _work(job: Job, start: int, begin: int) -> Visit:
    end = begin + job.work
    return Visit(start, end - job.fix, end, begin + job.diagnose if job.errs else None)
