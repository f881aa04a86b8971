"""The catalogue of generic equipment: every default a scenario may leave out, and its source.

In: the figures of `figures`. Out: `TYPES` (generic equipment types, by name) and `USUAL` (the type
that stands where a scenario names none). No type here is a real product.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from sim.rig.figures import PLACEHOLDER, RANGES, STANDARDS, TRADE, UNKNOWN, Fact, fact, known


@dataclass(frozen=True, slots=True)
class Generic:
    """A generic type: `timings` by field of a kit, `limits` (counts, pixels, m), `optics` (dB).

    `settings`: restore, on_loss, loop_through, where they differ from revertive, black, none.
    """

    name: str
    family: str
    timings: Mapping[str, Fact] = field(default_factory=dict)
    limits: Mapping[str, Fact] = field(default_factory=dict)
    optics: Mapping[str, Fact] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    delay: Fact | None = None
    index: Fact | None = None


def _part(of: str, least: str, most: str, unit: str) -> Fact:
    return fact(least, most, unit, f"{TRADE}; a part of {of!r}, {RANGES[of]}")


def _placeholder(least: str, most: str, unit: str) -> Fact:
    return fact(least, most, unit, PLACEHOLDER)


def _unknown(most: str, unit: str) -> Fact:
    """A shelter that nobody vouches for: typically nothing."""
    made = fact("0", most, unit, f"{PLACEHOLDER}; {UNKNOWN}")
    return Fact(made.least, made.most, unit, made.source, "guess", made.least)


def _count(value: str, unit: str) -> Fact:
    return fact(value, value, unit, PLACEHOLDER)


AT_ONCE = known("0", "s", STANDARDS["hold-off default"].source)
NO_WAIT = RANGES["receiver, back to forward"]

SCALING_UNIT = Generic(
    "scaling unit",
    "processor",
    timings={
        "start": RANGES["scaling unit boot"],
        "detect": _part("input changeover, computer", "0.1", "4", "s"),
        "switch": _part("input changeover, computer", "0", "1", "s"),
        "hold_off": AT_ONCE,
        "wait_to_restore": _placeholder("0", "5", "s"),
        "holdover": _unknown("10", "s"),
        "relock": RANGES["relock"],
        "relock_glitch": _placeholder("0", "1", "s"),
        "notice": RANGES["sending unit decides"],
        "return_wait": _placeholder("0", "5", "s"),
        "reference_detect": _placeholder("0", "1", "s"),
        "reference_hold_off": AT_ONCE,
        "reference_switch": _placeholder("0", "0.1", "s"),
        "reference_wait_to_restore": _placeholder("0", "5", "s"),
    },
    limits={
        "ports": _count("16", "port"),
        "ports_per_trunk": STANDARDS["ports per trunk"],
        "trunks": _count("4", "trunk"),
        "inputs": _count("4", "link"),
        "pixels": STANDARDS["pixels per port, 8 bit, 60 Hz"],
    },
    settings={"restore": "by-hand", "on_loss": "black", "loop_through": "active"},
    delay=STANDARDS["scaling latency"],
)
LINE_LATENCY_UNIT = replace(
    SCALING_UNIT,
    name="line-latency unit",
    limits={**SCALING_UNIT.limits, "line_width": STANDARDS["line-latency width"]},
    delay=STANDARDS["line-latency delay"],
)
RELAY_UNIT = Generic(
    "relay unit",
    "relay",
    timings={
        "start": RANGES["relay boot"],
        "detect": _part("relay, trunk to trunk", "0.1", "1.8", "s"),
        "switch": _part("relay, trunk to trunk", "0", "0.2", "s"),
        "hold_off": AT_ONCE,
        "wait_to_restore": _placeholder("0", "5", "s"),
        "notice": RANGES["sending unit decides"],
        "return_wait": _placeholder("0", "5", "s"),
    },
    limits={
        "ports": _count("16", "port"),
        "ports_per_trunk": STANDARDS["ports per trunk"],
        "trunk_inputs": _count("4", "trunk"),
    },
)
RECEIVING_CARD = Generic(
    "receiving card",
    "receiver",
    timings={
        "start": RANGES["receiver boot"],
        "detect": _part("receiver, forward to return", "1", "18", "frame"),
        "switch": _part("receiver, forward to return", "0", "2", "frame"),
        "hold_off": AT_ONCE,
        "wait_to_restore": NO_WAIT,
        "keeps_last": _unknown("1", "frame"),
    },
)
FIBRE = Generic(
    "fibre trunk",
    "fibre",
    timings={
        "start": fact("0", "300", "ms", STANDARDS["optical start-up"].source, "claim"),
    },
    limits={"reach": STANDARDS["planned reach of a trunk"]},
    optics={
        "launch": STANDARDS["10 Gb/s optics, launch"],
        "receive": STANDARDS["10 Gb/s optics, receive"],
        "per_km": STANDARDS["single-mode loss at 1310"],
        "per_connector": STANDARDS["connector loss"],
        "per_splice": STANDARDS["splice loss"],
    },
    index=STANDARDS["fibre group index at 1550"],
)


def _linked(name: str, family: str) -> Generic:
    return Generic(name, family, timings={"start": RANGES["copper re-link"]})


def _starting(name: str, family: str, start: Fact) -> Generic:
    return Generic(name, family, timings={"start": start})


TYPES: Mapping[str, Generic] = MappingProxyType(
    {
        made.name: made
        for made in (
            SCALING_UNIT,
            LINE_LATENCY_UNIT,
            RELAY_UNIT,
            RECEIVING_CARD,
            FIBRE,
            _linked("copper port", "port"),
            Generic(
                "copper patch",
                "copper",
                timings={"start": RANGES["copper re-link"]},
                limits={"reach": STANDARDS["copper reach"]},
            ),
            _linked("jumper", "jumper"),
            _starting("cabinet supply", "supply", _placeholder("0", "2", "s")),
            Generic("power jumper", "power-jumper"),
            _starting("camera", "source", _placeholder("10", "60", "s")),
            _starting("media computer", "source", RANGES["media computer boot"]),
            _starting("sync generator", "reference", _placeholder("1", "30", "s")),
            _starting("distributor", "distributor", _placeholder("0", "5", "s")),
            _starting("source cable", "copper", _placeholder("0.1", "1", "s")),
            _starting("reference cable", "copper", _placeholder("0", "1", "s")),
        )
    }
)
"""The generic types, by name."""

USUAL: Mapping[str, str] = MappingProxyType(
    {
        "unit": "scaling unit",
        "relay": "relay unit",
        "receiver": "receiving card",
        "port": "copper port",
        "trunk": "fibre trunk",
        "patch": "copper patch",
        "jumper": "jumper",
        "supply": "cabinet supply",
        "power-jumper": "power jumper",
        "source": "media computer",
        "source cable": "source cable",
        "distributor": "distributor",
        "reference": "sync generator",
        "reference cable": "reference cable",
    }
)
"""Which type stands in a role where the scenario names none."""
