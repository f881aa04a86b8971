"""A mark of a scenario: equal marks, equal scenarios.

In: a `Scenario`. Out: sixteen hexadecimal digits.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import blake2b

from sim.scenario.scenario import Scenario


def digest_of(scenario: Scenario) -> str:
    """A mark of all that a scenario says and that was assumed: equal marks, equal scenarios. The
    same in every run: sets, whose order is not, are told in the order of their names.
    """
    moving = sorted((name, sorted(of)) for name, of in scenario.terms.moving.items())
    terms = replace(scenario.terms, moving={})
    text = repr((scenario.file, scenario.learned, scenario.proved, terms, moving))
    return blake2b(text.encode(), digest_size=8).hexdigest()
