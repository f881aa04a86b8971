"""Formulas of bandwidth, detection and reach that published figures can be held against.

In: pixels, bits per colour, frames a second (exact), thousandths of a dB, flicks. Out: whole
numbers or exact fractions in the units that each function names. Ethernet figures: IEEE 802.3.
"""

from __future__ import annotations

from fractions import Fraction

from sim.timebase import FLICKS

COLOURS = 3
GIGABIT = 10**9
"""Bits a second on the wire."""
PAYLOAD = Fraction(1500, 1538)
"""Share of a full Ethernet frame that is payload, preamble and gap counted (IEEE 802.3)."""
STATED_AT = (Fraction(60), 8)
"""Frames a second and bits per colour at which equipment states the pixels of a port."""
OVERHEAD = 20
"""Bytes of preamble and gap around each Ethernet frame (IEEE 802.3)."""


def per_second(frame: int) -> Fraction:
    """Frames a second (exact), for a frame of so many flicks."""
    return Fraction(FLICKS, frame)


def picture_bits(pixels: int, rate: Fraction, bits: int) -> Fraction:
    """Bits a second that so many pixels take, three colours each."""
    return pixels * COLOURS * bits * rate


def port_pixels(stated: int, rate: Fraction, bits: int) -> int:
    """Pixels that a port carries, from those stated at 60 frames and 8 bits (common practice)."""
    at, depth = STATED_AT
    return int(stated * at / rate * depth / bits)


def gigabit_pixels(rate: Fraction, bits: int) -> int:
    """Pixels that gigabit Ethernet can carry at most: payload over bits of a pixel and rate."""
    return int(GIGABIT * PAYLOAD / (COLOURS * bits * rate))


def ports_needed(pixels: int, capacity: int) -> int:
    """Fewest ports of so many pixels each that carry the picture."""
    return -(-pixels // capacity)


def ethernet_frames(size: int, bits_per_second: int = 10**7) -> int:
    """Whole Ethernet frames of `size` bytes a second (RFC 2544 App. B: at 10 Mb/s)."""
    return bits_per_second // (8 * (size + OVERHEAD))


def serial_bits(raster: tuple[int, int], rate: Fraction, sample_bits: int) -> Fraction:
    """Bits a second of a serial digital link, over the whole raster, blanking included."""
    return raster[0] * raster[1] * rate * sample_bits


def heartbeat_detection(multiplier: int, interval: int) -> int:
    """Flicks until a loss is noticed: so many heartbeats missed (RFC 5880 6.8.4)."""
    return multiplier * interval


def master_down(priority: int, advertised_every: Fraction) -> Fraction:
    """When a standby router takes over, in the unit of the interval: 3 A + skew (RFC 9568 6.1)."""
    return 3 * advertised_every + (256 - priority) * advertised_every / 256
