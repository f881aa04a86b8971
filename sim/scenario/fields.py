"""Fields of a scenario file: from one written text to one value, or to one good message.

In: a text and the `Reading` (the show's rate and the names that the file declares). Out: types
for pydantic models: flicks, `Timing`, metres, exact numbers, names. Raises only `FieldError`,
which carries the parts of a message; nothing is taken from how a scalar happens to look.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainValidator, ValidationInfo, WithJsonSchema

from sim.bounds import MOST_NAME, MOST_TITLE
from sim.errors import InputError, nearest_name
from sim.faults import Quality
from sim.harmless import shows
from sim.scenario.stand_ins import meant, stand_in
from sim.timebase import GRADES, Delay, Rate, Timing, parse_delay, parse_time, parse_timing, rate
from sim.timecode import MIDNIGHT, code_number, parse_instant


class FieldError(ValueError):
    """A text that cannot be used: what was found, what is allowed, the nearest name, what to do."""

    def __init__(self, found: str, allowed: str = "", nearest: str = "", todo: str = "") -> None:
        super().__init__(found)
        self.found, self.allowed, self.nearest, self.todo = found, allowed, nearest, todo

    def hints(self) -> tuple[str, str]:
        """What is allowed, and the nearest name."""
        return self.allowed, self.nearest


class NoSuchNameError(FieldError):
    """A name that is not declared; what is allowed is looked up only if somebody reads it."""

    def __init__(self, found: str, todo: str, text: str, section: str, names: frozenset[str]):
        super().__init__(found, todo=todo)
        self._text, self._section, self._names = text, section, names

    def hints(self) -> tuple[str, str]:
        """Some names that may stand there, and the nearest of all."""
        some = ", ".join(sorted(self._names)[:SHOWN])
        return some or _nothing(self._section), nearest_name(self._text, self._names)


@dataclass(frozen=True, slots=True)
class Reading:
    """What the fields of one file need to know of the rest of it.

    `rate` is the show's (a stand-in where that is itself wrong), `start` its first time code;
    `names` maps a section to the names it declares.
    """

    rate: Rate
    start: str = MIDNIGHT
    names: Mapping[str, frozenset[str]] = field(default_factory=dict)


def text_of(value: Any, allowed: str) -> str:
    """The text itself; a mapping, a list or nothing is refused."""
    if not isinstance(value, str):
        found = f"a {'mapping' if isinstance(value, dict) else 'list'} where a text should stand"
        raise FieldError(found, allowed, todo="write one text")
    if not value:
        raise FieldError(
            "nothing after the colon", allowed, todo="write a value, or delete the line"
        )
    return str(value)


def asked(ask: Callable[[], Any], allowed: str, todo: str = "") -> Any:
    """What `timebase` makes of a text, its refusal turned into ours."""
    try:
        return ask()
    except InputError as error:
        said = error.problems[0]
        raise FieldError(
            said.found,
            said.allowed or allowed,
            said.nearest,
            said.todo or todo or f"write {allowed}",
        ) from None


def plain(convert: Callable[..., Any], schema: Mapping[str, Any]) -> PlainValidator:
    """A field that `convert` makes of a text; `schema` is what an editor is told of it."""
    return PlainValidator(
        convert, json_schema_input_type=Annotated[Any, WithJsonSchema(dict(schema))]
    )


TEXT = {"type": "string", "minLength": 1}
NUMBER = {"type": ["string", "number"]}
YES_NO = {"enum": ["yes", "no", "on", "off", "true", "false", True, False]}

# Times


def _rate(value: Any) -> Rate:
    text = text_of(value, "a frame rate, as 59.94")
    return asked(partial(rate, text), "a frame rate, as 59.94", "write the nearest one")  # type: ignore[no-any-return]


STAND_IN = rate("50")


def reading(info: ValidationInfo) -> Reading:
    """The `Reading` that goes with a validation."""
    return info.context if isinstance(info.context, Reading) else Reading(STAND_IN)


def _time(value: Any, info: ValidationInfo) -> int:
    text = text_of(value, "a time with its unit")
    return asked(partial(parse_time, text, reading(info).rate), "a time with its unit, as 250 ms")  # type: ignore[no-any-return]


TIMING_KEYS = ("range", "grade", "source")


def _timing(value: Any, info: ValidationInfo) -> Timing:
    allowed = "a time or a range, as 1..20 frames, typically 3"
    parts = value if isinstance(value, dict) else {"range": text_of(value, allowed)}
    for key in parts:
        if key not in TIMING_KEYS:
            near = nearest_name(key, TIMING_KEYS)
            raise FieldError(
                f"unknown key {key!r} in a timing", ", ".join(TIMING_KEYS), near, "rename it"
            )
    if "range" not in parts:
        raise FieldError("range is missing", allowed, todo="add range: 1..20 frames")
    grade = _word(GRADES, parts.get("grade", "guess"))
    source = text_of(parts.get("source", "stated in the scenario"), "where the figure is from")
    text = text_of(parts["range"], allowed)
    return asked(partial(parse_timing, text, reading(info).rate, grade, source), allowed)  # type: ignore[no-any-return]


def _delay(value: Any) -> Delay:
    text = text_of(value, "a delay, as 1 frame + 512 pixels")
    return asked(partial(parse_delay, text), "a delay, as 1 frame + 512 pixels")  # type: ignore[no-any-return]


def _position(value: Any, info: ValidationInfo) -> int:
    known, allowed = reading(info), "a time from the start, as 1 h 40 min, or a time code"
    text = text_of(value, allowed)
    return asked(partial(parse_instant, text, known.rate, known.start), allowed)  # type: ignore[no-any-return]


def _code(value: Any, info: ValidationInfo) -> str:
    text = text_of(value, "a time code, as 20:00:00:00")
    asked(partial(code_number, text, reading(info).rate), "a time code, as 20:00:00:00")
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
RateText = Annotated[Rate, plain(_rate, NUMBER)]
Flicks = Annotated[int, plain(_time, TEXT)]
TimingText = Annotated[Timing, plain(_timing, TIMING_SCHEMA)]
DelayText = Annotated[Delay, plain(_delay, TEXT)]
PositionText = Annotated[int, plain(_position, TEXT)]
CodeText = Annotated[str, plain(_code, TEXT)]

# Words and names


def _word(words: Iterable[str], value: Any) -> str:
    words = tuple(words)
    text = text_of(value, ", ".join(words))
    if text not in words:
        near = meant(text, words) or nearest_name(text, words)
        raise FieldError(
            f"{text!r} is none of the words that may stand here",
            ", ".join(words),
            near,
            "choose one",
        )
    return text


def word(*words: str) -> PlainValidator:
    """One of a few words."""
    return plain(partial(_word, words), {"enum": list(words)})


def _yes(value: Any) -> bool:
    return _word(("yes", "no", "on", "off", "true", "false"), value) in ("yes", "on", "true")


NAME = re.compile(r"[^\W_][\w .&'()+-]*")
NAME_RULE = (
    f"letters, digits, spaces and . - + & ' ( ), a letter or digit first, at most {MOST_NAME}"
)


def _name(value: Any) -> str:
    text = text_of(value, NAME_RULE)
    if not is_name(text):
        raise FieldError(f"{text[:70]!r} cannot be a name", NAME_RULE, todo="choose another name")
    return text


def is_name(text: str) -> bool:
    """Whether it keeps `NAME_RULE`; some letters of Unicode are blank, and so are not allowed."""
    return NAME.fullmatch(text) is not None and len(text) <= MOST_NAME and shows(text)


def _title(value: Any) -> str:
    text = text_of(value, f"a text of at most {MOST_TITLE} characters")
    if len(text) > MOST_TITLE:
        most = f"at most {MOST_TITLE}"
        raise FieldError(f"a text of more than {MOST_TITLE} characters", most, todo="shorten it")
    return text


SHOWN = 20
"""Names that a message lists at most."""


def _known(value: Any, info: ValidationInfo, section: str) -> str:
    called = CALLED.get(section, f"declared under {section}")
    text = text_of(value, f"a name that is {called}")
    names = reading(info).names.get(section)
    if names is None or text in names or text == stand_in(section, names):
        return text
    todo = f"correct the name, or declare it under {DECLARED.get(section, section)}"
    raise NoSuchNameError(f"{text!r} is not {called}", todo, text, section, names)


def _nothing(section: str) -> str:
    return f"nothing: none is declared under {DECLARED.get(section, section)}"


CALLED = {"types": "an equipment type", "areas": "a wall, a region or an audience area"}
DECLARED = {"types": "equipment", "areas": "regions or audience", "layers": "layers of its group"}
"""Where to declare what has no section of its own."""


def ref(section: str) -> PlainValidator:
    """A name that the file declares in a section (or that the catalogue holds)."""
    return plain(partial(_known, section=section), TEXT)


def several(value: Any) -> Any:
    """One text where a list may stand is a list of one; an empty list says nothing."""
    if isinstance(value, list) and not value:
        raise FieldError("an empty list", "one or several", todo="name one, or delete the line")
    return [value] if isinstance(value, str) and value else value


def _once_each(value: Any) -> Any:
    again = repeated(value) if isinstance(value, list) else ""
    if again:
        raise FieldError(f"{again!r} a second time", "each name once", todo="delete one of the two")
    return several(value)


def repeated(items: Iterable[Any]) -> str:
    """The first text that stands twice among these, or an empty text."""
    seen: set[str] = set()
    for item in items:
        if isinstance(item, str) and item in seen:
            return str(item)
        seen |= {item} if isinstance(item, str) else set()
    return ""


ONE_OR_LIST = Annotated[
    Any, WithJsonSchema({"anyOf": [TEXT, {"type": "array", "items": {"type": "string"}}]})
]
MANY = BeforeValidator(_once_each, json_schema_input_type=ONE_OR_LIST)
"""One text, or a list of them, each once."""
ANY_MANY = BeforeValidator(several, json_schema_input_type=ONE_OR_LIST)
"""One text, or a list of them in which one may stand again."""
YesNo = Annotated[bool, plain(_yes, YES_NO)]
Name = Annotated[str, plain(_name, TEXT)]
Title = Annotated[str, plain(_title, {"type": ["string", "number"]})]
QUALITIES = tuple(quality.name.lower() for quality in Quality if quality < Quality.GOOD)


def _quality(value: Any) -> int:
    return Quality[_word(QUALITIES, value).upper()].value


QualityWord = Annotated[int, plain(_quality, {"enum": list(QUALITIES)})]
