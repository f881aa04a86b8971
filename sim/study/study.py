"""What `compare`, `faults` and `check` report: one frozen result for each topology, and the
comparison.

In: a `Scenario`, a wall group, its variants. Out: `VariantStudy` and `Comparison`, in which
everything is worked out; reports only render it. Shares are parts of the group's pixels, dark
times wall-seconds a show (the whole group dark for one second is one).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sim.limits.capacity import grave_findings
from sim.limits.findings import Finding
from sim.limits.static import limit_findings
from sim.rig.bill import Bill, bill, extra
from sim.rig.patterns import build
from sim.rig.plan import ShowPlan
from sim.rig.refusals import reasons
from sim.rig.topology import Rig
from sim.rig.validator import validate
from sim.scenario.plan import plan_of
from sim.scenario.scenario import Scenario, Variant
from sim.study.contingency import Laboratory, singles
from sim.study.decisive import Decider, deciders
from sim.study.hidden import LatentRow, latent_rows
from sim.study.promises import LOSSES, MET, NOT, PERHAPS, Verdict, verdicts
from sim.study.rows import FaultRow, rows
from sim.study.strikes import strikes


@dataclass(frozen=True, slots=True)
class VariantStudy:
    """One topology of a group, worked out. `reasons` why it cannot be built; then all else is
    empty.

    `worst_lasting` by supplier: the greatest share not lit once settled and the row that does it.
    `areas`: pixels of each wall. `dark`: dark wall-seconds expected in a show, by all
    failure rates together. `serious`: findings of the static limits by which it cannot work as
    planned, although it can be built. `modes`: those of all faults that were worked out
    (none: all).
    """

    variant: Variant
    reasons: tuple[str, ...] = ()
    bill: Bill | None = None
    areas: Mapping[str, int] | None = None
    rows: tuple[FaultRow, ...] = ()
    latents: tuple[LatentRow, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    deciders: tuple[Decider, ...] = ()
    serious: tuple[Finding, ...] = ()
    modes: frozenset[str] = frozenset()

    @property
    def can_be_built(self) -> bool:
        return not self.reasons

    @property
    def dark(self) -> float:
        return sum(row.dark for row in self.rows)

    @property
    def guessed(self) -> float:
        """The part of `dark` that rests on placeholder rates."""
        return sum(row.guessed for row in self.rows)

    def count(self, verdict: str) -> int:
        """How many single faults have this verdict."""
        return sum(row.count for row in self.rows if row.verdict == verdict)

    @property
    def latent_count(self) -> int:
        return sum(latent.count for latent in self.latents)

    @property
    def worst_blink(self) -> FaultRow | None:
        """The blink that costs most area times frames: dark if any is, else corrupt, and so on."""
        blinks = [row for row in self.rows if row.verdict == "blink"]
        return max(blinks, key=lambda row: row.weight, default=None)

    @property
    def worst_latent(self) -> LatentRow | None:
        """Of the latent faults, the one that costs most beyond the second fault alone."""
        return max(self.latents, key=lambda row: row.gravity, default=None)

    @property
    def left_out(self) -> FaultRow | None:
        """The gravest lasting fault that limits on a single dead or cut do not judge."""
        found = [r for r in self.rows if r.verdict == "lasting" and r.mode not in LOSSES]
        return max(found, key=lambda row: row.gravity, default=None)

    @property
    def worst_lasting(self) -> dict[str, FaultRow]:
        """For each supplier whose item it is, the gravest lasting row: the one that costs the
        audience most, of equal ones that with most dark, then most corrupt, and so on.
        """
        found: dict[str, FaultRow] = {}
        for row in sorted(self.rows, key=lambda row: row.gravity, reverse=True):
            for supplier in row.suppliers if row.verdict == "lasting" else ():
                found.setdefault(supplier, row)
        return dict(sorted(found.items()))

    def spoilers(self, valid: bool) -> tuple[FaultRow, ...]:
        """What leaves nothing lit, be it with some timings only: because nothing arrives, or by a
        valid signal that is not the picture.
        """
        return tuple(row for row in self.rows if row.may_spoil_all and row.valid == valid)

    @property
    def limits_verdict(self) -> str:
        """The worst verdict on any limit; empty if there is none."""
        found = [v.verdict for v in self.verdicts]
        return next((v for v in (NOT, PERHAPS, MET) if v in found), "")


@dataclass(frozen=True, slots=True)
class Difference:
    """One kind of fault across the variants that can be built: for each its row, or None where it
    cannot happen.
    """

    name: str
    rows: tuple[FaultRow | None, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All variants of a group side by side.

    `common`: rows that are the same in all that can be built.
    """

    group: str
    studies: tuple[VariantStudy, ...]
    extras: tuple[Mapping[str, int], ...]
    common: tuple[FaultRow, ...]
    differences: tuple[Difference, ...]
    assumptions: int

    @property
    def offered(self) -> VariantStudy:
        return next(study for study in self.studies if study.variant.offered)

    @property
    def buildable(self) -> tuple[VariantStudy, ...]:
        return tuple(study for study in self.studies if study.can_be_built)


def rig_of(scenario: Scenario, variant: Variant) -> tuple[ShowPlan, Rig | None, tuple[str, ...]]:
    """The plan and rig of a variant (the other groups as offered), or the reasons why it cannot be
    built; a reason that lies in another group names it.
    """
    found = assessed(scenario, variant)
    return found.plan, found.rig, found.unfit


@dataclass(frozen=True, slots=True)
class Assessed:
    """The plan of a variant (the other groups as offered), its rig, or why it cannot be built
    (`unfit`); `limits`: all that the static limits find, if it can be made at all.
    """

    plan: ShowPlan
    rig: Rig | None
    unfit: tuple[str, ...]
    limits: tuple[Finding, ...] = ()


def assessed(scenario: Scenario, variant: Variant) -> Assessed:
    """Whether a variant can be built, and what the static limits say of it."""
    plan = plan_of(scenario, {variant.group: variant})
    why = tuple(_reasons(plan, variant.group))
    if why:
        return Assessed(plan, None, why)
    rig = build(plan)
    validate(rig)
    found = limit_findings(plan, rig, scenario.bits)
    beyond, _ = grave_findings(found)
    pairs = [finding.text for finding in beyond if finding.kind == "seamless"]
    rest = [f"{each.subject}: {each.text}" for each in beyond if each.kind != "seamless"]
    unfit = (*pairs, *rest)
    return Assessed(plan, None if unfit else rig, unfit, found)


def _reasons(plan: ShowPlan, varied: str) -> Iterator[str]:
    """Why the rig cannot be built: the varied group's reasons, then those of groups as offered."""
    found = reasons(plan)
    yield from found[varied]
    for group in plan.groups:
        if group.name != varied:
            said = f"group {group.name} with {group.topology}"
            yield from (f"{said}: {reason}" for reason in found[group.name])


def study(
    scenario: Scenario, variant: Variant, modes: frozenset[str] = frozenset()
) -> VariantStudy:
    """Everything about one topology of one group; faults of these modes only (none: of all)."""
    return studied(scenario, variant, modes)[0]


def studied(
    scenario: Scenario, variant: Variant, modes: frozenset[str] = frozenset()
) -> tuple[VariantStudy, Laboratory | None]:
    """The same, with the laboratory that it was worked out in, if it can be built."""
    fit = assessed(scenario, variant)
    if (rig := fit.rig) is None:
        return VariantStudy(variant, fit.unfit, modes=modes), None
    laboratory = Laboratory(rig, variant.group)
    outcomes = singles(laboratory, strikes(rig, modes))
    canvas = laboratory.canvas
    judged = verdicts(scenario.limits, canvas, outcomes, modes)
    found = VariantStudy(
        variant=variant,
        bill=bill(fit.plan, rig, variant.group),
        areas=canvas.walls,
        rows=rows(outcomes, canvas.area, rig.length, rig.timings),
        latents=latent_rows(laboratory, outcomes),
        verdicts=judged,
        deciders=deciders(laboratory, judged, outcomes),
        serious=grave_findings(fit.limits)[1],
        modes=modes,
    )
    return found, laboratory


def compare(scenario: Scenario, group: str, studies: Iterable[VariantStudy]) -> Comparison:
    """The studies of a group side by side; extra units are counted against the one with fewest
    things.
    """
    made = tuple(studies)
    bills = sorted(_bills(made), key=lambda bill: sum(bill.kits.values()))
    built = [study for study in made if study.can_be_built]
    table = _table(built)
    return Comparison(
        group=group,
        studies=made,
        extras=tuple(extra(s.bill, bills[0]) if s.bill else {} for s in made),
        common=tuple(d.rows[0] for d in table if d.rows[0] is not None and _same(d)),
        differences=tuple(d for d in table if not _same(d)),
        assumptions=len(scenario.assumptions),
    )


def _bills(made: Iterable[VariantStudy]) -> list[Bill]:
    return [study.bill for study in made if study.bill is not None]


def _table(built: Sequence[VariantStudy]) -> list[Difference]:
    worst = [by_name(study.rows) for study in built]
    names = dict.fromkeys(name for of in worst for name in of)
    return [Difference(name, tuple(of.get(name) for of in worst)) for name in names]


def by_name(found: Iterable[FaultRow]) -> dict[str, FaultRow]:
    """The worst row of each kind of fault."""
    worst: dict[str, FaultRow] = {}
    for row in found:
        worst.setdefault(row.name, row)
    return worst


def _same(difference: Difference) -> bool:
    marks = {
        None if r is None else (r.verdict, r.lasting, r.ever, r.frames, r.states)
        for r in difference.rows
    }
    return len(marks) == 1
