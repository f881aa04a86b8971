"""Pieces of SVG: escaped texts with known widths, rectangles, paths, one style for all drawings.

In: texts and coordinates in pixels. Out: SVG elements as texts, well-formed, without scripts.
Widths are those of a wide common typeface, so that others fit too.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from html import escape

from sim.rig.audit import xml_text

TITLE, NAME, SMALL = 16, 12, 11
"""Sizes of text in pixels."""
_PLAIN = (
    "32 40 46 84 64 95 78 27 39 39 50 84 32 36 32 34 64 64 64 64 64 64 64 64 "
    "64 64 34 34 84 84 84 53 100 68 69 70 77 63 58 77 75 29 29 66 56 86 75 79 "
    "60 79 69 63 61 73 68 99 69 61 69 39 34 39 84 50 50 61 63 55 63 62 35 63 "
    "63 28 28 58 28 97 63 61 63 63 41 52 39 63 59 82 59 59 52 64 34 64 84 "
)
_WIDTHS = {chr(32 + number): int(width) for number, width in enumerate(_PLAIN.split())}
"""Hundredths of the size that a character is wide (measured from a free wide sans-serif face)."""
_BOLD = 1.13

STYLE = """
.paper{fill:#ffffff}.ink{fill:#1c1f23}.dim{fill:#4a5058}.bold{font-weight:bold}
.box{fill:#f3f4f6;stroke:#3d434a;stroke-width:1}
.heavy{fill:#f3f4f6;stroke:#1c1f23;stroke-width:3.5}
.line{fill:none;stroke:#3d434a;stroke-width:1.25}.dash{stroke-dasharray:6 4}
.strong{stroke-width:3.5}
.grid{fill:none;stroke:#cbd0d6;stroke-width:1}.point{fill:#3d434a}.rule{stroke:#cbd0d6}
.mark{fill:none;stroke:#1c1f23;stroke-width:3}
@media (prefers-color-scheme:dark){
.paper{fill:#14171a}.ink{fill:#eef0f2}.dim{fill:#b8bec5}
.box{fill:#1f2429;stroke:#c2c8ce}.heavy{fill:#1f2429;stroke:#eef0f2}
.line{stroke:#c2c8ce}.grid{stroke:#474e56}.point{fill:#c2c8ce}.rule{stroke:#474e56}
.mark{stroke:#eef0f2}}
"""
"""Neutral tones only: nothing is told by a hue."""


def width(text: str, size: float, bold: bool = False) -> float:
    """Pixels that a text takes at most."""
    return sum(map(_hundredths, text)) * size / 100 * (_BOLD if bold else 1)


def _hundredths(char: str) -> int:
    if unicodedata.combining(char):
        return 0
    return _WIDTHS.get(char, 105 if unicodedata.east_asian_width(char) in "WF" else 85)


def shorten(text: str, most: float, size: float, bold: bool = False) -> str:
    """The text, at most `most` pixels wide: else its ends (more of the last) round an ellipsis."""
    text = xml_text(text)
    if width(text, size, bold) <= most:
        return text
    keep = len(text) - 1
    while keep > 1 and width(_ends(text, keep), size, bold) > most:
        keep -= 1
    return _ends(text, keep)


def _ends(text: str, keep: int) -> str:
    first = (keep + 2) // 3
    return f"{text[:first]}\u2026{text[len(text) - keep + first :]}"


def wrap(words: Iterable[str], most: float, size: float) -> list[str]:
    """Words joined with spaces to lines at most `most` pixels wide (a single word may be wider)."""
    lines: list[str] = []
    for word in words:
        if lines and width(f"{lines[-1]} {word}", size) <= most:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def text(
    x: float, y: float, content: str, size: int = SMALL, look: str = "ink", anchor: str = "start"
) -> str:
    """A text whose baseline starts, is centred or ends at (x, y)."""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{size}" class="{look}"'
        f' text-anchor="{anchor}">{clean(content)}</text>'
    )


def rect(x: float, y: float, w: float, h: float, look: str, **data: object) -> str:
    """A plain rectangle; `data`: what scripts find it by, as `data-...` attributes."""
    sides = f'x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}"'
    return f'<rect {sides} class="{look}"{_data(data)}/>'


def _data(data: Mapping[str, object]) -> str:
    return "".join(f' data-{name}="{clean(str(value))}"' for name, value in data.items())


def line(points: Iterable[tuple[float, float]], look: str = "line") -> str:
    """A line through points."""
    steps = " L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path d="M{steps}" class="{look}"/>'


def bent(points: Iterable[tuple[float, float]], radius: float, look: str = "line") -> str:
    """A line of level and upright parts with rounded corners."""
    way = [*points]
    steps = [f"M{number(way[0][0])} {number(way[0][1])}"]
    for before, corner, after in zip(way, way[1:], way[2:], strict=False):
        cut = min(radius, _far(before, corner) / 2, _far(corner, after) / 2)
        (ax, ay), (bx, by) = _toward(corner, before, cut), _toward(corner, after, cut)
        turn = f"Q{number(corner[0])} {number(corner[1])} {number(bx)} {number(by)}"
        steps.append(f"L{number(ax)} {number(ay)} {turn}")
    steps.append(f"L{number(way[-1][0])} {number(way[-1][1])}")
    return f'<path d="{" ".join(steps)}" class="{look}"/>'


def _far(one: tuple[float, float], other: tuple[float, float]) -> float:
    return abs(one[0] - other[0]) + abs(one[1] - other[1])


def _toward(
    start: tuple[float, float], end: tuple[float, float], far: float
) -> tuple[float, float]:
    share = far / (_far(start, end) or 1)
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def dot(x: float, y: float, radius: float = 4) -> str:
    """A filled dot."""
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" class="point"/>'


def together(parts: Iterable[str], title: str, **data: object) -> str:
    """Elements as one group with a title: what a pointer or a screen reader says of it. `data`: as
    for `rect`.
    """
    return f"<g{_data(data)}><title>{clean(title)}</title>{''.join(parts)}</g>"


def moved(parts: Iterable[str], x: float, y: float) -> str:
    """Elements with their (0, 0) at (x, y)."""
    inner = "\n".join(parts)
    return f'<g transform="translate({number(x)} {number(y)})">\n{inner}\n</g>'


def page(parts: Iterable[str], size: tuple[float, float], title: str, desc: str, ident: str) -> str:
    """A whole SVG document of (width, height) pixels; `ident` begins its element ids."""
    w, h = (number(side) for side in size)
    mark = clean(ident)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}"'
        f' font-family="sans-serif" role="img" aria-labelledby="{mark}-title {mark}-desc">'
    )
    names = f'<title id="{mark}-title">{clean(title)}</title>'
    names += f'<desc id="{mark}-desc">{clean(desc)}</desc>'
    paper = f'<rect width="{w}" height="{h}" class="paper"/>'
    return "\n".join([head, names, f"<style>{STYLE}</style>", paper, *parts, "</svg>"]) + "\n"


def clean(content: str) -> str:
    """A text as it may stand in an element or an attribute."""
    return escape(xml_text(content))


def number(value: float) -> str:
    """A coordinate, to a tenth of a pixel, the same on every machine."""
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")
