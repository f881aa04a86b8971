"""Like latent faults on one row: how many, what brings them out, and what is lost then.

In: a `Laboratory` and the outcomes of all single faults. Out: frozen `LatentRow`s. Shares are
exact parts of the group's pixels.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.study.contingency import Laboratory, Outcome
from sim.study.latent import latents
from sim.study.outcome import how_many
from sim.study.rows import grave


@dataclass(frozen=True, slots=True)
class LatentRow:
    """Like latent faults: how many, and a second fault (a role and mode) that brings them out, with
    the shares not lit by state (as in `STATES`) after it `alone` and after both; the gravest of
    these faults.
    """

    name: str
    count: int
    second: str
    alone_states: tuple[Fraction, ...]
    together_states: tuple[Fraction, ...]

    @property
    def alone(self) -> Fraction:
        return sum(self.alone_states, Fraction(0))

    @property
    def together(self) -> Fraction:
        return sum(self.together_states, Fraction(0))

    @property
    def gravity(self) -> tuple[Fraction, ...]:
        """For comparing: what is lost beyond what the second fault costs alone."""
        pairs = zip(self.together_states, self.alone_states, strict=True)
        return grave([both - alone for both, alone in pairs])


def latent_rows(laboratory: Laboratory, outcomes: Sequence[Outcome]) -> tuple[LatentRow, ...]:
    """All latent faults, like ones on one row, in the order of the outcomes."""
    area = laboratory.canvas.area
    found: dict[tuple[str, str], LatentRow] = {}
    for latent in latents(laboratory, outcomes):
        strike, second = latent.strike, latent.second
        name, other = f"{strike.role} {strike.mode}", f"{second.role} {second.mode}"
        row = LatentRow(name, 1, other, *(_parts(areas, area) for areas in latent.states))
        seen = found.get((name, other), replace(row, count=0))
        graver = max(seen, row, key=lambda each: each.gravity)
        found[name, other] = replace(graver, count=seen.count + how_many(latent))
    return tuple(found.values())


def _parts(areas: Iterable[int], area: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(pixels, area) for pixels in areas)
