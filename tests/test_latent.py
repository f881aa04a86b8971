"""Latent faults: found by trying second faults, none missed by leaving out what cannot matter.

In: small plans of every topology. Out: the shortened search equals the one that tries every pair.
"""

from __future__ import annotations

import plans
import pytest

from sim.rig.patterns import build
from sim.rig.plan import ShowPlan
from sim.study.contingency import Laboratory, Outcome, singles
from sim.study.footprint import Footprints
from sim.study.latent import Latent, latents
from sim.study.strikes import strikes

SHOWS = {
    **{name: plans.main(name, 2, 3) for name in ("single-feed", "return-loop", "two-unit")},
    **{name: plans.main(name, 2, 3) for name in ("relay-pair", "crossed-relays")},
    **{name: plans.banks(name) for name in ("mirrored", "mirrored-guarded")},
    "gated": plans.main("crossed-relays", 2, 3, options={"returns": "gated"}),
    "two cards": plans.main("relay-pair", 2, 3, options={"cards": 2}),
    "seamless": plans.main("relay-pair", 2, 3, options={"seamless": True}),
}


def bench(show: ShowPlan) -> tuple[Laboratory, tuple[Outcome, ...]]:
    rig = build(show)
    laboratory = Laboratory(rig, show.groups[0].name)
    return laboratory, singles(laboratory, strikes(rig))


def names(found: tuple[Latent, ...]) -> dict[str, str]:
    return {latent.strike.name: latent.second.name for latent in found}


@pytest.mark.parametrize("show", list(SHOWS))
def test_no_latent_fault_is_missed_against_enumeration(
    show: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    laboratory, outcomes = bench(SHOWS[show])
    short = names(latents(laboratory, outcomes))
    monkeypatch.setattr(Footprints, "can_meet", lambda *_: True)
    assert short == names(latents(laboratory, outcomes))


def test_leaving_out_too_much_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    laboratory, outcomes = bench(SHOWS["relay-pair"])
    whole = names(latents(laboratory, outcomes))
    monkeypatch.setattr(Footprints, "can_meet", lambda *_: False)
    assert whole and not latents(laboratory, outcomes)


def test_a_dead_backup_relay_is_latent_and_the_main_relay_brings_it_out() -> None:
    laboratory, outcomes = bench(SHOWS["relay-pair"])
    found = {latent.strike.name: latent for latent in latents(laboratory, outcomes)}
    latent = found["main/relay-backup dead"]
    assert latent.second.name == "main/relay-main dead"
    assert (latent.alone, latent.together) == (0, laboratory.canvas.area)
    assert "main/relay-backup restart" not in found
    assert "main/chain-1/tail cut" in found
    assert "main/chain-1/jumper-2 dead" not in found


def test_without_a_backup_nothing_is_latent() -> None:
    assert not latents(*bench(SHOWS["single-feed"]))
