"""PDF by way of an installed browser: what is said where there is none or it fails; bytes written
whole. Programs of the tests' own stand for the browser.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sim import cli, printing
from sim.errors import InputError

PDF = b"%PDF-1.4 \x00\xff by a test"


def _program(folder: Path, script: str) -> Path:
    path = folder / "browser of a test"
    path.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    path.chmod(0o755)
    return path


PRINTS = r"""
for each in "$@"; do
  case "$each" in
    --print-to-pdf=*) out="${each#--print-to-pdf=}";;
    file://*) page="${each#file://}";;
  esac
done
printf '%s\n' "$@" > "$STAYLIT_TEST_SEEN"
cp "$page" "$STAYLIT_TEST_SEEN.html"
printf '%%PDF-1.4 \000\377 by a test' > "$out"
"""


@pytest.fixture
def prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A program that prints, and the file in which it notes what it was asked."""
    seen = tmp_path / "seen"
    monkeypatch.setenv("STAYLIT_TEST_SEEN", str(seen))
    monkeypatch.setenv(printing.VARIABLE, str(_program(tmp_path, PRINTS)))
    return seen


def test_the_bytes_that_the_browser_prints_are_handed_over(prints: Path) -> None:
    assert printing.printed("<p>\u4e2d</p>") == PDF
    assert prints.with_suffix(".html").read_text(encoding="utf-8") == "<p>\u4e2d</p>"
    asked = prints.read_text().splitlines()
    assert "--headless" in asked and "--no-pdf-header-footer" in asked
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in asked
    (profile,) = (each.partition("=")[2] for each in asked if each.startswith("--user-data-dir="))
    assert not Path(profile).exists() and not Path(asked[-1].removeprefix("file://")).exists()


@pytest.mark.parametrize(("user", "needed"), [(0, True), (1000, False)])
def test_only_the_superuser_goes_without_a_sandbox(
    prints: Path, monkeypatch: pytest.MonkeyPatch, user: int, needed: bool
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: user)
    printing.printed("<p></p>")
    assert ("--no-sandbox" in prints.read_text().splitlines()) is needed


def _refused(call: object, *says: str) -> None:
    with pytest.raises(InputError) as found:
        call()  # type: ignore[operator]
    for said in says:
        assert said in str(found.value)


def test_where_there_is_no_browser_it_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv(printing.VARIABLE, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    _refused(
        printing.browser, "--format pdf: there is no Chromium here", "STAYLIT_CHROMIUM",
        "allowed: chromium or chromium-browser", "do: install chromium, or write --format html",
    )  # fmt: skip


def test_a_name_that_is_no_program_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(printing.VARIABLE, "/nowhere/at all")
    _refused(printing.browser, "STAYLIT_CHROMIUM names no program: '/nowhere/at all'")


@pytest.mark.parametrize(
    ("script", "says"),
    [
        ("echo 'cannot open display' >&2; exit 3", "printed nothing: cannot open display"),
        ("exit 0", "printed nothing: and says nothing"),
        ('for e in "$@"; do case "$e" in --print*) : > "${e#*=}";; esac; done', "printed nothing"),
    ],
)
def test_a_browser_that_prints_nothing_is_told_with_its_last_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, says: str
) -> None:
    monkeypatch.setenv(printing.VARIABLE, str(_program(tmp_path, script)))
    _refused(lambda: printing.printed("<p></p>"), says, "do: write --format html")


def test_a_browser_that_hangs_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(printing.VARIABLE, str(_program(tmp_path, "exec sleep 60")))
    monkeypatch.setattr(printing, "SECONDS", 0.3)
    _refused(lambda: printing.printed("<p></p>"), "took longer than 0.3 s")


def test_a_pdf_goes_into_a_file_whole(prints: Path, tmp_path: Path) -> None:
    out = tmp_path / "report.pdf"
    assert cli.run(["faults", "first", "--output", str(out)]) == 1
    assert out.read_bytes() == PDF
    assert "@page { size: A4; }" in prints.with_suffix(".html").read_text(encoding="utf-8")
    assert cli.run(["faults", "first", "--paper", "letter", "--output", str(out)]) == 1
    assert "@page { size: letter; }" in prints.with_suffix(".html").read_text(encoding="utf-8")
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_html_leaves_the_paper_to_whoever_prints_it(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    assert cli.run(["faults", "first", "--output", str(out)]) == 1
    assert "size:" not in out.read_text(encoding="utf-8").partition("@page {")[2][:200]


def test_a_pdf_is_not_written_to_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["compare", "first", "--format", "pdf"]) == 2
    said = capsys.readouterr()
    assert "--output FILE.pdf" in said.err and not said.out


def test_nothing_is_worked_out_where_no_pdf_can_be_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from sim import commands

    monkeypatch.setenv(printing.VARIABLE, "no-such-browser")
    monkeypatch.setattr(commands, "compared", lambda *_: pytest.fail("it was worked out"))
    assert cli.run(["compare", "first", "--output", str(tmp_path / "x.pdf")]) == 2
    assert "no-such-browser" in capsys.readouterr().err
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize("command", ["check", "explain"])
def test_other_reports_come_in_no_pdf(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    asked = [command, "first", *(["latent"] if command == "explain" else []), "--format", "pdf"]
    assert cli.run(asked) == 2
    assert "'pdf' is not one of its values" in capsys.readouterr().err
