"""A scenario whose names are attacks, from the file to a real browser, with its break bench.

In: `first` with its names exchanged. Out: a page that runs none of it, asks for nothing, and whose
bench still plays.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from sim import cli
from sim.harmless import shows

FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
WILD = '<img src=x onerror="document.title=1"></script><script>document.title=1</script>'
SLY = "&amp' (x)"
"""All that the loader lets a name hold; more is refused (`test_mistakes`)."""


def test_names_that_attack_are_names(tmp_path: Path) -> None:
    text = FIRST.read_text(encoding="utf-8")
    label = WILD.replace("'", "''")
    text = text.replace("title: First steps", f"title: '{label}'")
    text = text.replace("invented for this example", f"'{label}'")
    text = text.replace(
        "offered: relay-pair", f"offered: {{topology: relay-pair, label: '{label}'}}"
    )
    for name in ("desk power", "wall power", "left hand"):
        text = text.replace(name, f'"{name} {SLY}"')
    scenario, out = tmp_path / "wild.yaml", tmp_path / "wild.html"
    scenario.write_text(text, encoding="utf-8")
    status = cli.run(["compare", str(scenario), "--workers", "1", "--output", str(out)])
    assert status == 1
    said: list[str] = []
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("dialog", lambda dialog: said.append(dialog.message))
        page.on("request", lambda request: said.append(request.url))
        page.goto(out.as_uri())
        page.wait_for_selector("#bench-body[data-first]")
        assert said == [out.as_uri()] and page.title() != "1" and WILD in page.title()
        for fault in range(0, 60, 7):
            page.evaluate(
                "n => { location.hash = `#bench:topology=topology-0&fault=number~${n}&frame=3`; }",
                fault,
            )
            page.wait_for_selector(".bench-check:has-text('equal')")
        assert page.locator("img, script[src], iframe, object").count() == 0
        assert said == [out.as_uri()] and page.title() != "1"
        browser.close()


@pytest.mark.parametrize("wild", [WILD])
def test_the_same_name_put_in_as_markup_would_run(wild: str) -> None:
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page()
        page.set_content(f"<title>a</title>{wild}")
        assert page.title() == "1"
        browser.close()


IGNORED = """() => {
    const found = [];
    for (let code = 0; code <= 0x10ffff; code++)
        if (/\\p{Default_Ignorable_Code_Point}/u.test(String.fromCodePoint(code))) found.push(code);
    return found;
}"""


def test_all_that_unicode_says_may_be_ignored_is_written_out() -> None:
    """By the tables of Unicode that the browser has for its regular expressions (ECMA-262)."""
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        codes = browser.new_page().evaluate(IGNORED)
        browser.close()
    assert len(codes) > 4000 and {0x200B, 0x202E, 0x3164, 0xFE0F, 0xE0001} <= {*codes}
    assert [hex(code) for code in codes if shows(f"a{chr(code)}")] == []
