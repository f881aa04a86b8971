"""Figures that the catalogue stands on: ranges, each with unit, grade and source.

In: nothing. Out: `STANDARDS` (what a standard or the trade's practice gives) and `RANGES`
(what hardly anybody has measured: never use them as points). Units stand in each entry:
us, ms, s, min, frame, dBm, dB, dB/km, km, m, /h, per show, share, pixel, port, cabinet.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sim.timebase import FLICKS, Timing

TRADE = "general trade knowledge, from memory"
PLACEHOLDER = "placeholder"
UNKNOWN = "unknown, so taken the unfavourable way"
PRACTICE = "common practice, no source"


COUNTED = ("frame", "pixel", "port", "trunk", "cabinet")
"""Units that take an s where there are several."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A range in `unit`; `typical` None: the middle. `grade` as for timings."""

    least: Fraction
    most: Fraction
    unit: str
    source: str
    grade: str = "guess"
    typical: Fraction | None = None

    @property
    def middle(self) -> Fraction:
        """The typical value in `unit`."""
        return (self.least + self.most) / 2 if self.typical is None else self.typical

    def __str__(self) -> str:
        unit = self.unit if self.least == self.most == 1 else f"{self.unit}s"
        shown = {"us": "µs", **dict.fromkeys(COUNTED, unit)}.get(self.unit, self.unit)
        return f"{_span(self.least, self.most)} {shown}".rstrip()


def _span(least: Fraction, most: Fraction) -> str:
    return _short(least) if least == most else f"{_short(least)}..{_short(most)}"


def _short(value: Fraction) -> str:
    return f"{float(value):.12g}"


def fact(least: str, most: str, unit: str, source: str, grade: str = "guess") -> Fact:
    """A range, from decimal texts in `unit`."""
    return Fact(Fraction(least), Fraction(most), unit, source, grade)


def known(value: str, unit: str, source: str) -> Fact:
    """One value that a standard gives (what equipment is claimed to keep to)."""
    return Fact(Fraction(value), Fraction(value), unit, source, "claim")


SECONDS = {"us": Fraction(1, 10**6), "ms": Fraction(1, 1000), "s": Fraction(1), "min": Fraction(60)}
SHELTERS = frozenset({"keeps_last", "hold_up", "holdover"})
"""Timings that keep the picture up: they stand at their greatest in the most favourable run."""


def timing(key: str, fact: Fact, frame: int) -> Timing:
    """A fact as the timing `key`, in flicks, for a wall's frame of `frame` flicks.

    Raises KeyError if the fact is no time.
    """
    unit = Fraction(frame) if fact.unit == "frame" else SECONDS[fact.unit] * FLICKS
    least, most = round(fact.least * unit), round(fact.most * unit)
    typical = (least + most) // 2 if fact.typical is None else round(fact.typical * unit)
    return Timing(least, typical, most, fact.grade, fact.source, key in SHELTERS)


INF = "INF-8074i, SFF-8431/8472 (secondary source read)"
G808 = "ITU-T G.808.1 (secondary source read)"
ST2022 = "SMPTE ST 2022-7 (value from memory)"
OPTICS = "IEEE 802.3 clause 52 (secondary source read)"
LOSSES = "Fiber Optic Association; ANSI/TIA-568.3 (secondary source read)"
INDEX = "ITU-T G.652 type fibre (value from memory)"

STANDARDS: dict[str, Fact] = {
    "optical loss of signal, assert": known("100", "us", INF),
    "optical loss of signal, de-assert": known("100", "us", INF),
    "optical transmit fault": known("100", "us", INF),
    "optical start-up": known("300", "ms", INF),
    "copper link bring-up, master": fact(
        "740", "760", "ms", "IEEE 802.3 40.4.5.2, maxwait_timer (secondary source read)", "claim"
    ),
    "copper link bring-up, slave": fact(
        "345", "355", "ms", "IEEE 802.3 40.4.5.2, maxwait_timer (secondary source read)", "claim"
    ),
    "copper break link": fact(
        "1.2", "1.5", "s", "IEEE 802.3 clause 28, break_link_timer (secondary source read)", "claim"
    ),
    "copper renegotiation": fact(
        "2", "3", "s", "IEEE 802.3 clause 28 (secondary source read)", "claim"
    ),
    "seamless frames lost": known(
        "0", "frame", "IEC 62439-3; SMPTE ST 2022-7 (secondary source read)"
    ),
    "seamless class A": known("10", "ms", ST2022),
    "seamless class B": known("50", "ms", ST2022),
    "seamless class C": known("450", "ms", ST2022),
    "seamless class D": known("150", "us", ST2022),
    "ring recovery, G.8032": known("50", "ms", "ITU-T G.8032 (secondary source read)"),
    "ring recovery, MRP": known("200", "ms", "IEC 62439-2, MRP default (secondary source read)"),
    "protection switch": known("50", "ms", "ITU-T G.808.1/G.841 (value from memory)"),
    "protection detection": known("10", "ms", "ITU-T G.808.1/G.841 (value from memory)"),
    "detect and restore": fact("50", "60", "ms", "RFC 7419 App. A", "claim"),
    "hold-off": fact("0", "10", "s", G808, "claim"),
    "hold-off step": known("100", "ms", G808),
    "hold-off default": known("0", "s", G808),
    "wait-to-restore": Fact(
        Fraction(1),
        Fraction(12),
        "min",
        "ITU-T G.8032 (secondary source read)",
        "claim",
        Fraction(5),
    ),
    "wait-to-restore, long-haul": fact("5", "12", "min", "GR-253 (secondary source read)", "claim"),
    "10 Gb/s optics, launch": fact("-8.2", "0.5", "dBm", OPTICS, "claim"),
    "10 Gb/s optics, receive": fact("-14.4", "0.5", "dBm", OPTICS, "claim"),
    "10 Gb/s optics, reach": known("10", "km", OPTICS),
    "single-mode loss at 1310": known("0.4", "dB/km", LOSSES),
    "connector loss": Fact(
        Fraction("0.5"), Fraction("0.75"), "dB", LOSSES, "claim", Fraction("0.5")
    ),
    "splice loss": Fact(Fraction("0.15"), Fraction("0.3"), "dB", LOSSES, "claim", Fraction("0.15")),
    "fibre group index at 1310": known("1.4676", "", INDEX),
    "fibre group index at 1550": known("1.4682", "", INDEX),
    "pixels per port, 8 bit, 60 Hz": known("655360", "pixel", PRACTICE),
    "ports per trunk": known("8", "port", PRACTICE),
    "planned reach of a trunk": known("6.5", "km", PRACTICE),
    "line-latency width": known("512", "pixel", PRACTICE),
    "line-latency delay": known("512", "pixel", PRACTICE),
    "copper reach": known("100", "m", "IEEE 802.3 clause 40 (value from memory)"),
    "scaling latency": fact("1", "2", "frame", PRACTICE),
}  # fmt: skip
"""Figures that a standard or the trade's practice gives, with the source as it should be named."""


def trade(least: str, most: str, unit: str) -> Fact:
    """A range from general trade knowledge."""
    return fact(least, most, unit, TRADE)


RANGES: dict[str, Fact] = {
    "receiver, forward to return": trade("1", "20", "frame"),
    "sending unit decides": trade("0.1", "3", "s"),
    "receiver, back to forward": trade("0", "0", "s"),
    "copper re-link": trade("1", "4", "s"),
    "relay, trunk to trunk": trade("0.1", "2", "s"),
    "input changeover, serial digital": trade("0.1", "1", "s"),
    "input changeover, computer": trade("0.5", "5", "s"),
    "input changeover, protected content": trade("0.5", "10", "s"),
    "scaling unit boot": trade("20", "120", "s"),
    "media computer boot": trade("2", "10", "min"),
    "receiver boot": trade("2", "15", "s"),
    "relay boot": trade("5", "30", "s"),
    "relock": trade("0.5", "10", "s"),
    "battery holds when called": trade("0.95", "0.99", "share"),
    "changeover fails, untested": trade("0.01", "0.05", "per demand"),
    "changeover fails, tested the same day": trade("0.001", "0.005", "per demand"),
    "visible operator error": trade("0.005", "0.03", "per show"),
    "source computer crash": trade("0.0001", "0.001", "/h"),
    "temporary fibre damaged": trade("0.002", "0.01", "per show day"),
    "notice, wall black": trade("1", "3", "s"),
    "notice, one cabinet": trade("5", "60", "s"),
    "notice, frozen": trade("2", "20", "s"),
    "repair, jumper from behind": trade("3", "10", "min"),
    "repair, module": trade("2", "5", "min"),
    "repair, scaling unit swap": trade("10", "30", "min"),
    "repair, spare strand": trade("2", "10", "min"),
    "cabinets on a breaker": trade("6", "20", "cabinet"),
    "spare share, modules": trade("0.03", "0.05", "share"),
    "spare share, cabinets": trade("0.02", "0.05", "share"),
    "any visible defect, 150 cabinets, one night": trade("0.1", "0.4", "per show"),
    "whole wall dark over 10 s, unprotected": trade("0.002", "0.01", "per show"),
}
"""Ranges that hardly anybody has measured: never use them as points."""
