"""Fields of a scenario file: from one written text to one value, or to one good message.

In: a text and the `Reading` (the show's rate and the names that the file declares). Out: types
for pydantic models: flicks, `Timing`, metres, exact numbers, pixels, names. Raises only `Wrong`,
which carries the parts of a message; nothing is taken from how a scalar happens to look.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainValidator, ValidationInfo, WithJsonSchema

from sim.errors import InputError, nearest_name
from sim.faults import Quality
from sim.timebase import (
    GRADES, Delay, Rate, parse_delay, parse_metres, parse_time, parse_timing, rate,
)  # fmt: skip
from sim.timebase import Timing as Timing
from sim.timecode import MIDNIGHT, code_number, parse_instant

Size = tuple[int, int]


class Wrong(ValueError):
    """A text that cannot be used: what was found, what is allowed, the nearest name, what to do."""

    def __init__(self, found: str, allowed: str = "", nearest: str = "", todo: str = "") -> None:
        super().__init__(found)
        self.found, self.allowed, self.nearest, self.todo = found, allowed, nearest, todo


@dataclass(frozen=True, slots=True)
class Reading:
    """What the fields of one file need to know of the rest of it.

    `rate` is the show's (a stand-in where that is itself wrong), `start` its first time code;
    `names` maps a section to the names it declares.
    """

    rate: Rate
    start: str = MIDNIGHT
    names: Mapping[str, frozenset[str]] = field(default_factory=dict)


def _text(value: Any, allowed: str) -> str:
    if not isinstance(value, str):
        raise Wrong(f"{_shape(value)} where a text should stand", allowed, todo="write one text")
    if not value:
        raise Wrong("nothing after the colon", allowed, todo="write a value, or delete the line")
    return str(value)


def _shape(value: Any) -> str:
    return "a mapping" if isinstance(value, dict) else "a list"


def _asked(ask: Callable[[], Any], allowed: str, todo: str = "") -> Any:
    """What `timebase` makes of a text, its refusal turned into ours."""
    try:
        return ask()
    except InputError as error:
        said = error.problems[0]
        raise Wrong(
            said.found, said.allowed or allowed, said.nearest, said.todo or todo or f"write {allowed}"
        ) from None


def _plain(convert: Callable[..., Any], schema: Mapping[str, Any]) -> PlainValidator:
    return PlainValidator(convert, json_schema_input_type=Annotated[Any, WithJsonSchema(dict(schema))])


TEXT = {"type": "string", "minLength": 1}
NUMBER = {"type": ["string", "number"]}
YES_NO = {"enum": ["yes", "no", "on", "off", "true", "false", True, False]}

# Times


def _rate(value: Any) -> Rate:
    text = _text(value, "a frame rate, as 59.94")
    return _asked(partial(rate, text), "a frame rate, as 59.94", "write the nearest one")  # type: ignore[no-any-return]


STAND_IN = rate("50")


def reading(info: ValidationInfo) -> Reading:
    """The `Reading` that goes with a validation."""
    return info.context if isinstance(info.context, Reading) else Reading(STAND_IN)


def _time(value: Any, info: ValidationInfo) -> int:
    text = _text(value, "a time with its unit")
    return _asked(partial(parse_time, text, reading(info).rate), "a time with its unit, as 250 ms")  # type: ignore[no-any-return]


TIMING_KEYS = ("range", "grade", "source")


def _timing(value: Any, info: ValidationInfo) -> Timing:
    allowed = "a time or a range, as 1..20 frames, typically 3"
    parts = value if isinstance(value, dict) else {"range": _text(value, allowed)}
    for key in parts:
        if key not in TIMING_KEYS:
            near = nearest_name(key, TIMING_KEYS)
            raise Wrong(f"unknown key {key!r} in a timing", ", ".join(TIMING_KEYS), near, "rename it")
    grade = _word(GRADES, parts.get("grade", "guess"))
    source = _text(parts.get("source", "stated in the scenario"), "where the figure is from")
    text = _text(parts.get("range", ""), allowed)
    return _asked(partial(parse_timing, text, reading(info).rate, grade, source), allowed)  # type: ignore[no-any-return]


def _delay(value: Any) -> Delay:
    text = _text(value, "a delay, as 1 frame + 512 pixels")
    return _asked(partial(parse_delay, text), "a delay, as 1 frame + 512 pixels")  # type: ignore[no-any-return]


def _position(value: Any, info: ValidationInfo) -> int:
    known, allowed = reading(info), "a time from the start, as 1 h 40 min, or a time code"
    text = _text(value, allowed)
    return _asked(partial(parse_instant, text, known.rate, known.start), allowed)  # type: ignore[no-any-return]


def _code(value: Any, info: ValidationInfo) -> str:
    text = _text(value, "a time code, as 20:00:00:00")
    _asked(partial(code_number, text, reading(info).rate), "a time code, as 20:00:00:00")
    return text


TIMING_SCHEMA = {
    "anyOf": [
        TEXT,
        {
            "type": "object",
            "properties": {"range": TEXT, "grade": {"enum": list(GRADES)}, "source": TEXT},
            "required": ["range"],
            "additionalProperties": False,
        },
    ]
}
RateText = Annotated[Rate, _plain(_rate, NUMBER)]
Flicks = Annotated[int, _plain(_time, TEXT)]
TimingText = Annotated[Timing, _plain(_timing, TIMING_SCHEMA)]
DelayText = Annotated[Delay, _plain(_delay, TEXT)]
PositionText = Annotated[int, _plain(_position, TEXT)]
CodeText = Annotated[str, _plain(_code, TEXT)]

# Numbers

MOST_COUNT = 100_000
NUMERAL = re.compile(r"[+-]?\d{1,15}(\.\d{1,15})?")


def number(text: str, unit: str, allowed: str) -> Fraction:
    """`0.4 dB/km` as an exact number; the unit is required where there is one."""
    bare, _, rest = text.partition(" ") if unit else (text, "", "")
    joined = re.fullmatch(r"([+-]?[\d.]+)\s*(\S*)", text)
    if unit and joined:
        bare, rest = joined[1], joined[2]
    if re.fullmatch(r"[+-]?(nan|inf|infinity|\.nan|\.inf)", bare, re.IGNORECASE):
        raise Wrong(f"{text!r} is not a finite number", allowed, todo="write a number")
    if not NUMERAL.fullmatch(bare):
        raise Wrong(f"{text!r} is not a number", allowed, todo=f"write {allowed}")
    if rest != unit:
        found = f"{text!r} has no unit" if not rest else f"{text!r} has an unknown unit {rest!r}"
        raise Wrong(found, allowed, unit if rest else "", f"write {bare} {unit}")
    return Fraction(bare)


def _number(value: Any, unit: str, least: str, most: str) -> Fraction:
    allowed = f"{least} to {most} {unit}".strip()
    text = _text(value, allowed)
    made = number(text, unit, allowed)
    if not Fraction(least) <= made <= Fraction(most):
        raise Wrong(f"{text!r} is out of range", allowed, todo=f"write {allowed}")
    return made


def _count(value: Any, least: int, most: int) -> int:
    allowed = f"a whole number from {least} to {most}"
    text = _text(value, allowed)
    if not re.fullmatch(r"\d{1,15}", text):
        raise Wrong(f"{text!r} is not a whole number", allowed, todo=f"write {allowed}")
    if not least <= int(text) <= most:
        raise Wrong(f"{text!r} is out of range", allowed, todo=f"write {allowed}")
    return int(text)


def _metres(value: Any) -> Fraction:
    text = _text(value, "a length with its unit, as 1.2 km")
    made: Fraction = _asked(partial(parse_metres, text), "a length with its unit, as 1.2 km")
    if made > 1_000_000:
        raise Wrong(f"{text!r} is longer than any rig", "up to 1000 km", todo="check the unit")
    return made


def _pixels(value: Any) -> Size:
    return pair(_text(value, "width x height in px, as 240 x 240 px"), "width x height in px", 1)


def _grid(value: Any) -> Size:
    text = _text(value, "columns x rows, as 16 x 9")
    made = pair(f"{text} px", "columns x rows, as 16 x 9", 1, text)
    if made[0] * made[1] > MOST_COUNT:
        raise Wrong(f"{text!r} makes more than {MOST_COUNT} cabinets", f"up to {MOST_COUNT} cabinets",
                    todo="split the wall, or check the numbers")  # fmt: skip
    return made


def _point(value: Any) -> Size:
    return pair(f"{_text(value, 'x, y in pixels, as 480, 0')} px", "x, y in pixels, as 480, 0", 0, str(value))


def pair(text: str, allowed: str, least: int, shown: str = "") -> Size:
    """`240 x 240 px`, `240 by 240 px` or `240, 240 px` as two whole numbers; `px` is required."""
    shown = shown or text
    found = re.fullmatch(r"(\d{1,15})\s*(?:x|×|by|,)\s*(\d{1,15})\s*(\S*)", text)
    if not found:
        raise Wrong(f"{shown!r} is not two numbers", allowed, todo=f"write {allowed}")
    if found[3] not in ("px", "pixels"):
        what = "no unit" if not found[3] else f"an unknown unit {found[3]!r}"
        raise Wrong(f"{shown!r} has {what}", allowed, "px" if found[3] else "", f"write {found[1]} x {found[2]} px")
    made = (int(found[1]), int(found[2]))
    if not all(least <= n <= MOST_COUNT for n in made):
        raise Wrong(f"{shown!r} is out of range", f"{least} to {MOST_COUNT} each", todo="check the numbers")
    return made


def _price(value: Any) -> tuple[Fraction, str]:
    allowed = "an amount and its ISO 4217 code, as 1200 EUR"
    text = _text(value, allowed)
    found = re.fullmatch(r"(\S+?)\s*([^\W\d]*)", text)
    amount, code = (found[1], found[2]) if found else (text, "")
    if not re.fullmatch(r"\d{1,12}(\.\d{1,4})?", amount):
        raise Wrong(f"{text!r} is not an amount of money", allowed, todo=f"write {allowed}")
    if code not in CURRENCIES:
        found_code = f"an unknown currency {code!r}" if code else "no currency"
        near = nearest_name(code.upper(), CURRENCIES) if code else ""
        raise Wrong(f"{text!r} has {found_code}", allowed, near, f"write {amount} and the code")
    return Fraction(Decimal(amount)), code


CURRENCIES = tuple(
    "AED ARS AUD BGN BHD BRL CAD CHF CLP CNY COP CZK DKK EGP EUR GBP GEL HKD HUF IDR ILS INR ISK JOD JPY "
    "KES KRW KWD KZT LKR MAD MXN MYR NGN NOK NZD OMR PEN PHP PKR PLN QAR RON RSD SAR SEK SGD THB TND TRY "
    "TWD UAH USD UYU VND ZAR".split()
)
"""Codes of ISO 4217 that are taken (values from memory; not the whole list)."""


def _share(value: Any) -> Fraction:
    return _number(value, "%", "0", "100") / 100


PriceText = Annotated[tuple[Fraction, str], _plain(_price, TEXT)]
Metres = Annotated[Fraction, _plain(_metres, TEXT)]
Pixels = Annotated[Size, _plain(_pixels, TEXT)]
Grid = Annotated[Size, _plain(_grid, TEXT)]
Point = Annotated[Size, _plain(_point, TEXT)]
Share = Annotated[Fraction, _plain(_share, TEXT)]


def exact(unit: str, least: str, most: str) -> PlainValidator:
    """An exact number with its unit ("" = none)."""
    schema = TEXT if unit else NUMBER
    return _plain(partial(_number, unit=unit, least=least, most=most), schema)


def count(least: int, most: int = MOST_COUNT) -> PlainValidator:
    """A whole number."""
    return _plain(partial(_count, least=least, most=most), {"type": ["string", "integer"]})


# Words and names


def _word(words: Iterable[str], value: Any) -> str:
    words = tuple(words)
    text = _text(value, ", ".join(words))
    if text not in words:
        near = nearest_name(text, words)
        raise Wrong(f"{text!r} is none of the words that may stand here", ", ".join(words), near, "choose one")
    return text


def word(*words: str) -> PlainValidator:
    """One of a few words."""
    return _plain(partial(_word, words), {"enum": list(words)})


def _yes(value: Any) -> bool:
    return _word(("yes", "no", "on", "off", "true", "false"), value) in ("yes", "on", "true")


NAME = re.compile(r"[^\W_][\w .&'()+-]*")
NAME_RULE = "letters, digits, spaces and . - + & ' ( ), a letter or digit first, at most 60"


def _name(value: Any) -> str:
    text = _text(value, NAME_RULE)
    if not NAME.fullmatch(text) or len(text) > 60:
        raise Wrong(f"{text[:70]!r} cannot be a name", NAME_RULE, todo="choose another name")
    return text


def _title(value: Any) -> str:
    text = _text(value, "a text of at most 200 characters")
    if len(text) > 200:
        raise Wrong("a text of more than 200 characters", "at most 200", todo="shorten it")
    return text


def _known(value: Any, info: ValidationInfo, section: str) -> str:
    text, names = _text(value, f"a name under {section}"), reading(info).names.get(section, frozenset())
    if text not in names:
        allowed = ", ".join(sorted(names)[:12]) or f"nothing: there is no {section} section"
        raise Wrong(f"{text!r} is not declared under {section}", allowed, nearest_name(text, names),
                    f"correct the name, or declare it under {section}")  # fmt: skip
    return text


def ref(section: str) -> PlainValidator:
    """A name that the file declares in a section (or that the catalogue holds)."""
    return _plain(partial(_known, section=section), TEXT)


def several(value: Any) -> Any:
    """One text where a list may stand is a list of one."""
    return [value] if isinstance(value, str) and value else value


MANY = BeforeValidator(several)
YesNo = Annotated[bool, _plain(_yes, YES_NO)]
Name = Annotated[str, _plain(_name, TEXT)]
Title = Annotated[str, _plain(_title, {"type": ["string", "number"]})]
QUALITIES = tuple(quality.name.lower() for quality in Quality if quality < Quality.GOOD)


def _quality(value: Any) -> int:
    return Quality[_word(QUALITIES, value).upper()].value


QualityWord = Annotated[int, _plain(_quality, {"enum": list(QUALITIES)})]
