"""When faults of a show are mended: technicians and spares that they share, as a SimPy model.

In: incidents, the crew, breaks, the show's length, when the control link is lost; all flicks from
the start of the show. Out: one `Mended` for each incident. What one technician does once he is free
is worked out in `visits`; here stands who goes first.

- First come first served, by the flick at which a fault is known. At one instant what stands first
  among the incidents goes first (its turn, its spare), unless it must wait for a technician who
  becomes free only then.
- What nobody can mend or reach takes no technician.
- A missing spare shows once the fault is diagnosed: the technician leaves, and is free again.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from simpy import Container, Environment, Resource
from simpy.events import Event, EventPriority

from sim.rig.terms import Crew
from sim.risk.visits import (
    Incident,
    Job,
    Lost,
    Mended,
    Night,
    Visit,
    job_of,
    night_of,
    told,
    visit_of,
)
from sim.scenario.scenario import Stretch

Steps = Generator[Event, Any, None]
"""A SimPy process."""


# ---- technicians, for shows and for long runs ----------------------------------------------------


@dataclass(frozen=True, slots=True)
class Workshop:
    """A SimPy environment (clock: whole flicks) and its technicians; None: there are none."""

    env: Environment
    crew: Resource | None

    def pause(self, flicks: int, rank: int) -> Event:
        """Go on after so many flicks; at one instant a lower rank goes first."""
        event = Event(self.env)
        event._ok, event._value = True, None
        self.env.schedule(event, EventPriority(rank + FIRST_RANK), flicks)
        return event

    def attend(self, rank: int, work: Callable[[int], Iterator[int]]) -> Steps:
        """Wait for a free technician, first come first served; then he does `work`.

        `work`: from the flick at which he is free, the times (flicks) that its parts take. Without
        technicians it never begins.
        """
        if self.crew is None:
            return
        with self.crew.request() as turn:
            yield turn
            for part in work(int(self.env.now)):
                yield self.pause(part, rank)

    def beside(self, places: int) -> Workshop:
        """Places in the same environment that are waited for in the same way."""
        return Workshop(self.env, Resource(self.env, places))


FIRST_RANK = 2
"""After SimPy's own urgent and normal events, such as a technician's turn."""


def workshop(technicians: int) -> Workshop:
    """A new environment, its clock at 0. Raises ValueError."""
    if technicians < 0:
        raise ValueError(f"{technicians} technicians: none or more")
    env = Environment()
    return Workshop(env, Resource(env, technicians) if technicians else None)


# ---- a show -------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Trail:
    """What came of an incident within one simulation."""

    visit: Visit | None = None
    lacks: bool = False


def mended(
    incidents: Sequence[Incident],
    crew: Crew,
    breaks: Sequence[Stretch],
    length: int,
    lost: Lost = (),
) -> tuple[Mended, ...]:
    """How each incident goes. `lost`: when the control link does not stand, [from, to), None: for
    good. Raises ValueError for unknown words and for numbers out of range.
    """
    night = night_of(crew, breaks, length, lost)
    jobs = [job_of(incident, night) for incident in incidents]
    trails = [_Trail() for _ in incidents]
    shop = workshop(crew.technicians)
    stock = {name: Container(shop.env, init=left) for name, left in crew.spares.items()}
    for rank, (job, trail) in enumerate(zip(jobs, trails, strict=True)):
        if isinstance(job, Job):
            shop.env.process(_response(shop, rank, partial(_steps, job, night, stock, trail), job))
    shop.env.run(until=length)
    return tuple(
        told(job, trail.visit, trail.lacks, length) for job, trail in zip(jobs, trails, strict=True)
    )


def alone(
    incident: Incident,
    crew: Crew,
    breaks: Sequence[Stretch],
    length: int,
    lost: Lost = (),
) -> Mended:
    """How an incident goes if it is the only one: the same as `mended`, without a simulation."""
    night = night_of(crew, breaks, length, lost)
    return _by_itself(job_of(incident, night), night)


def undisturbed(
    incidents: Sequence[Incident],
    crew: Crew,
    breaks: Sequence[Stretch],
    length: int,
    lost: Lost = (),
) -> tuple[Mended, ...] | None:
    """How several incidents go that need not wait for each other: the same as `mended`, without a
    simulation. None where there are more of them than technicians, or than spares of one kind.
    """
    night = night_of(crew, breaks, length, lost)
    jobs = [job_of(incident, night) for incident in incidents]
    todo = [job for job in jobs if isinstance(job, Job)]
    spares = [job.spare for job in todo if job.spare]
    short = any(spares.count(name) > max(crew.spares.get(name, 0), 1) for name in spares)
    if short or len(todo) > crew.technicians:
        return None
    return tuple(_by_itself(job, night) for job in jobs)


def _by_itself(job: Job | Mended, night: Night) -> Mended:
    """How a job goes that waits for nobody."""
    if isinstance(job, Mended) or not night.crew.technicians:
        return told(job, None, False, night.length)
    lacks = bool(job.spare) and night.crew.spares.get(job.spare, 0) < 1
    return told(job, visit_of(job, job.known, night), lacks, night.length)


def _response(shop: Workshop, rank: int, steps: Callable[[int], Iterator[int]], job: Job) -> Steps:
    yield shop.pause(job.known, rank)
    yield from shop.attend(rank, steps)


def _steps(
    job: Job, night: Night, stock: Mapping[str, Container], trail: _Trail, now: int
) -> Iterator[int]:
    """The times (flicks) between what a technician does who is free `now`."""
    trail.visit = visit = visit_of(job, now, night)
    if visit.found is None:
        yield visit.end - now
        return
    yield visit.found - now
    trail.lacks = bool(job.spare) and not _taken(stock.get(job.spare))
    if not trail.lacks:
        yield visit.end - visit.found


def _taken(shelf: Container | None) -> bool:
    """Take one, if one is left."""
    if shelf is None or shelf.level < 1:
        return False
    shelf.get(1)
    return True
