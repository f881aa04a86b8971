"""What a static check has to say: one sentence, how grave it is, and what to do about it.

In: what a check found. Out: frozen `Finding`s, the gravest first. Figures are exact; the unit of
each stands in its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

SEVERITIES = ("serious", "warning", "note")
"""serious: it cannot work as planned; warning: it may not, or only by luck; note: worth knowing."""

Figure = int | Fraction | str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. `kind` is the check that made it, `subject` the thing, wall or group meant."""

    severity: str
    kind: str
    subject: str
    text: str
    todo: str = ""
    figures: tuple[tuple[str, Figure], ...] = ()

    @property
    def values(self) -> Mapping[str, Figure]:
        """The figures by name."""
        return dict(self.figures)

    def __str__(self) -> str:
        todo = f" Do: {self.todo}." if self.todo else ""
        return f"{self.severity}: {self.subject}: {self.text}.{todo}"


def by_severity(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, the gravest first, else in the order in which they came."""
    return tuple(sorted(dict.fromkeys(found), key=lambda each: SEVERITIES.index(each.severity)))
