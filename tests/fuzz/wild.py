"""What a hostile or careless file may hold: texts, numbers, keys, whole pieces of YAML and CSV.

In: nothing. Out: constants, for `mutants`.
"""

from __future__ import annotations

CHARACTERS = (
    "\x00", "\x07", "\x1b[31m", "\x1b]0;t\x07", "\x7f", "\x85", "\u00a0", "\u00ad", "\u0301",
    "\u200b", "\u200d", "\u202e", "\u2028", "\u2029", "\u2066", "\ufeff", "\ufffd", "\uffff",
    "\U0001f9ff", "\U000e0001", "\U0010ffff", "\ud800", "\r", "\n", "\t", "\u0130", "\u1e9e",
    "\u01c5", "\u212a", "\uff10", "\u0661", "\u00b2", "\u2212", "\u00d7", "\u00b5", "\u03bc", "'",
    '"', "\\", "`", "<b>", "]]>", "&amp;", "{{7*7}}", "%s", "%n", "|", "*", "?", "[a-", "#", "@",
    ": ", " #", "- ", "=1+1",
)  # fmt: skip
NUMBERS = (
    "0", "-0", "00", "1", "-1", "+1", "0.5", ".5", "5.", "1e3", "1e999", "1e-999", "1e999999",
    "1E+9", "nan", "inf", "-inf", ".inf", ".nan", "NaN", "Infinity", "0x10", "0b1", "1_000",
    "1 000", "1,5", "99999", "100000", "100001", "2147483648", "9223372036854775808",
    "18446744073709551616", "9" * 15, "9" * 16, "9" * 40, "9" * 400, "9" * 5000,
    "0." + "0" * 50 + "1", "1" + "0" * 30, "1/0", "1/3", "0/0", "60000/1001", "1/" + "9" * 30,
    "\u0661\u0662", "\uff11", "\u00bd", "\u2167",
)  # fmt: skip
UNITS = (
    "ms", "s", "min", "h", "days", "us", "frames", "m", "km", "px", "%", "dB", "dB/km", "ppm",
    "EUR", "FIT", "per year", "per h", "h MTBF", "per mating", "per km and year", "per show",
    "years", "",
)  # fmt: skip
TEXTS = (
    "", " ", "~", "null", "yes", "no", "on", "none", "true", "for ever", "never", "always",
    "given", "0 x 0", "1 x 1", "100000 x 1", "300 x 300", "-3 x 2", "3 x", "2 x 2 x 2",
    "0 x 0 px", "1 x 1 px", "100000 x 100000 px", "-1, -1", "0, 0", "99999, 99999", "1..0 s",
    "0..0 s", "1 s..for ever", "for ever..1 s", "1..2..3 s", "0..1 s, typically 2 s",
    "1 s typically", "..", "1 s, typically", "00:00:00:00", "23:59:59:99", "24:00:00:00",
    "99:99:99:99", "20:10:00;00", "21:58:00;00", "::::", "12:00", "0000-00-00", "2026-02-30",
    "9999-12-31", "0001-01-01", "10000-01-01", "2025-01-01T00:00:00Z", "2025-01-01 24:00", "r1c1",
    "r0c0", "r999999999c1", "r1c1..r2c2", "r9c9..r1c1", "r1c1..r100000c100000", "*", "**", "?",
    "[", "[!]", "*a*a*a*a*a*a*a*a*b", "/", "//", "main/", "/main", "../../etc/passwd", "CON",
    "main", "panel", "unit-a", "unit-*", "relay-main", "single-feed", "return-loop", "two-unit",
    "relay-pair", "crossed-relays", "mirrored", "mirrored-guarded", "us", "dead", "cut",
    "flapping", "wall", "group", "dark", "not lit", "a" * 59, "a" * 61, "a" * 201, "a" * 20000,
    "\u00e9" * 300, "a b " * 400, "- " * 50, "{" * 40, "<script>alert(1)</script>",
    "=HYPERLINK(1)", "@SUM(1)", "-2+3", "%PDF-1.4", "__class__",
)  # fmt: skip
KEYS = (
    "<<", "", " ", "show", "walls", "form", "like", "__init__", "1", "null", "*", "a" * 300,
    "\u202e",
)  # fmt: skip
LAUGHS = "".join(
    f"{key}: &{key} [{', '.join([of] * 8)}]\n"
    for of, key in zip(("x", "*a", "*b", "*c", "*d"), "abcde", strict=True)
)
"""Eight times what stands above, five times over: the laughs of a billion."""
YAML = (
    LAUGHS,
    "&x", "*x", "<<: *x", "!!python/object/apply:os.system [id]", "!!binary aGk=", "!x",
    "%YAML 1.2", "---", "...", "? a", "? [a, b]\n: c", "|\n  text", ">-\n  text", "[" * 60,
    "{a: " * 60, "- " * 60, "\t", "'", '"', '"\\x00"', '"\\ud800"', '"\\U00110000"', "#", ": ",
    "key: [a, b", "\ufeff", "\x0c", "!<tag:yaml.org,2002:int> 3", "&a &b c", "{? : }", "[,]",
    "{a, b}", "a: b: c", "@", "`",
)  # fmt: skip
CSV = (
    ",", ";", '"', '""', '","', "\n", "\r", "\r\n", "\x00", "\t", "'", ",,,,,,,,", '"\n', ' "',
    "\ufeff",
)  # fmt: skip
