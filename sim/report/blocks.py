"""What a report for people is made of, whatever its format: headings, paragraphs, tables, points.

In: texts. Out: frozen blocks, which `text` and `markdown` render; nothing is worked out here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heading:
    """`level` 1 is the title of the report."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; `warning` if it must not be overlooked."""

    text: str
    warning: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """A list of sentences."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines that must stay as they are, such as a wall in letters."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of texts under a head; `right` names the columns of numbers.

    `least` > 0: columns after the first may be dealt out to several tables, each column at least
    this wide. `ruled`: a thin line between rows, for cells of several lines. `spare`: columns that
    text leaves out where names would have to be broken otherwise.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    least: int = 0
    ruled: bool = False
    spare: frozenset[int] = frozenset()


Block = Heading | Para | Points | Lines | Table
Blocks = tuple[Block, ...]

CAUTIONS = Points(
    (
        "These results are for planning. They prove nothing about a built rig: test the real "
        "backup before the show.",
        "Electrical and rigging work only by qualified people under local codes; isolate before "
        "touching.",
        "Never look into a fibre or a connector: the light is invisible and harms the eye "
        "(IEC 60825-2).",
        "Failure rates shipped with the program are placeholders, not records of any equipment: "
        "they only serve to hold topologies against each other.",
    )
)
"""What every report ends with."""

FLASHING = (
    "Flashing: some faults here make a quarter of a group or more flash more than three times in a "
    "second. That can harm photosensitive viewers (ITU-R BT.1702, WCAG 2.3.1); a bright wall lies "
    "outside the brightness that those limits assume. Cut to black at once if it happens."
)
