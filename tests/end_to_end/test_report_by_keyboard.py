"""The page worked with the keyboard alone: reach everything, sort a table, copy a table, no word in the console."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest

from feelcheck.model import Estimate, FeelAxis, FeelResult, Part, Play, Profile, Report
from feelcheck.renderers.report import report_html

from .devtools import Browser  # type: ignore[import-not-found]

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(shutil.which("chromium") is None, reason="there is no chromium here"),
]

VALUES = ("1u", "47n", "2.2u")
COLUMN = "[...document.querySelectorAll('#record tbody')].at(-1).rows"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    folder = tmp_path_factory.mktemp("page")
    parts = tuple(
        Part(position=f"c{k}", role="capacitor", value=value, unit="F", axis="left_x")
        for k, value in enumerate((1e-6, 47e-9, 2.2e-6))
    )
    carry = Estimate.measured("carry_on_after_release", 2.8, u=0.1, unit="deg")
    axis = FeelAxis(
        axis="left_x", state="as_found", origin="hand", plane="left_right",
        estimates={"carry_on_after_release": carry},
    )  # fmt: skip
    page = folder / "page.html"
    report = Report(
        title="Loaner pads", profiles=(Profile(specimen="birch", parts=parts),),
        feel=(FeelResult(specimen="birch", play=Play(), axes=(axis,)),),
    )  # fmt: skip
    page.write_text(report_html(report), encoding="utf-8")
    opened = Browser(page, folder / "profile")
    yield opened
    opened.close()


def _focused(browser: Browser) -> str:
    found: str = browser.evaluate(
        "(document.activeElement.getAttribute('aria-label') || document.activeElement.textContent).trim()"
    )
    return found


def test_the_tab_key_reaches_every_link_header_and_button(browser: Browser) -> None:
    wanted = "document.querySelectorAll('a[href], button, summary, [tabindex=\"0\"]')"
    n = browser.evaluate(f"{wanted}.length")
    browser.evaluate(
        f"window.reached = new Set(); {wanted}.forEach((e) => e.addEventListener('focus', () => reached.add(e)))"
    )
    browser.evaluate("document.activeElement.blur()")
    for _ in range(n + 1):
        browser.press("Tab")
    assert browser.evaluate("reached.size") == n


def test_enter_and_space_sort_a_table(browser: Browser) -> None:
    read = "[...document.querySelectorAll('#record .table')].at(-1).querySelectorAll('tbody tr')"
    cells = f"[...{read}].map((row) => row.cells[3].textContent)"
    browser.evaluate(
        "[...document.querySelectorAll('#record th button')].find((b) => b.textContent === 'value').focus()"
    )
    assert _focused(browser) == "value"
    browser.press("Enter")
    assert browser.evaluate(cells) == ["47 nF", "1 uF", "2.2 uF"]
    browser.press(" ")
    assert browser.evaluate(cells) == ["2.2 uF", "1 uF", "47 nF"]
    assert browser.evaluate("document.activeElement.parentElement.getAttribute('aria-sort')") == "descending"


def test_a_table_is_copied_by_key_press(browser: Browser) -> None:
    browser.call("Browser.grantPermissions", permissions=["clipboardReadWrite", "clipboardSanitizedWrite"])
    browser.evaluate("document.querySelector('#use .copy').focus()")
    assert _focused(browser).startswith("Copy this table: Side by side: Meaning in use")
    browser.press("Enter")
    browser.wait_for("document.getElementById('said').textContent !== ''")
    said = browser.evaluate("document.getElementById('said').textContent")
    copied = browser.evaluate("navigator.clipboard.readText()" if said == "Copied." else "getSelection().toString()")
    lines = [line.split("\t") for line in copied.strip().splitlines()]
    assert lines[0] == ["axis", "what", "birch"]
    assert lines[1][0] == "left_x"
    assert lines[1][-1].startswith("2.80 deg (2.60 to 3.00)")


def test_nothing_was_said_on_the_console(browser: Browser) -> None:
    browser.evaluate("1")
    assert browser.console == []
