"""Takes the pictures that README.md shows: `.venv/bin/python tests/pictures.py` (needs Chromium).

In: the sample pages in reports/. Out: PNG files in reports/pictures/. Their bytes depend on the
browser and its typefaces, so no test holds them to a fresh run; take them anew after a change that
is meant to be seen.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

REPORTS = Path(__file__).parents[1] / "reports"
BENCH = "#bench:topology=main%3A+relay-pair&beside=main%3A+crossed-relays&fault="
SHOTS = {
    "bench-river": ("compare-river.html", BENCH + "main/unit-a~dead&frame=80", "#bench", 1440),
    "summary-river": ("compare-river.html", "", "#summary", 1000),
    "charts-studio": ("risk-studio.html", "", "#charts", 1200),
}
"""Name of a picture: page, fragment, the part of it that is shown, width of the window."""


def main() -> None:
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        for name, (page, fragment, part, wide) in SHOTS.items():
            opened = browser.new_page(viewport={"width": wide, "height": 980})
            opened.goto((REPORTS / page).as_uri() + fragment)
            _take(opened, part, REPORTS / "pictures" / f"{name}.png")
        browser.close()


def _take(page: Page, part: str, file: Path) -> None:
    """The window, scrolled to the part."""
    page.locator(part).evaluate("it => it.scrollIntoView()")
    page.wait_for_timeout(300)
    file.parent.mkdir(exist_ok=True)
    page.screenshot(path=file)
    print(f"took {file.name}")


if __name__ == "__main__":
    main()
