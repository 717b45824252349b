"""The page in a real browser: it renders, sorts, can be reached by keyboard, passes an accessibility check, prints."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tarfile
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.model import (
    ChainLink,
    Comparison,
    Estimate,
    HandResult,
    Provenance,
    Recording,
    Report,
    TimingResult,
    Trace,
)
from feelcheck.renderers.report import report_html

pytestmark = pytest.mark.browser

CHROMIUM = shutil.which("chromium")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--enable-logging=stderr", "--v=0",
)  # fmt: skip
PROBE = """
<script>
const out = {};
const heads = [...document.querySelectorAll("#chain th button")];
const column = (k) => [...document.querySelectorAll("#chain tbody tr")].map((row) => row.cells[k].textContent);
const measured = heads.findIndex((b) => b.textContent === "measured");
out.before = column(measured);
heads[measured].click();
out.ascending = column(measured);
out.said_ascending = heads[measured].parentElement.getAttribute("aria-sort");
heads[measured].click();
out.descending = column(measured);
out.said_descending = heads[measured].parentElement.getAttribute("aria-sort");
out.unreachable = [...document.querySelectorAll("button, a[href]")].filter((e) => { e.focus(); return document.activeElement !== e; }).length;
out.figures = [...document.querySelectorAll("figure svg")].map((svg) => svg.getBoundingClientRect().width > 300);
out.too_wide = document.documentElement.scrollWidth > document.documentElement.clientWidth;
out.dark = matchMedia("(prefers-color-scheme: dark)").matches;
out.data = JSON.parse(document.getElementById("feelcheck-data").textContent).schema;
const show = () => { const pre = document.createElement("pre"); pre.id = "probe"; pre.textContent = JSON.stringify(out); document.body.appendChild(pre); };
if (window.axe) {
  axe.run(document, {resultTypes: ["violations"]}).then((found) => {
    out.violations = found.violations.map((v) => v.id + ": " + v.nodes.slice(0, 3).map((n) => n.html.slice(0, 90)).join(" | "));
    show();
  });
} else { show(); }
</script>
"""  # noqa: E501


def _delay(value_ms: float) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=1e-4, unit="s")


def _page() -> str:
    links = tuple(
        ChainLink(
            specimen="birch", axis="left_x", state="as_found", direction=direction, link="bench-hand",
            predicted=_delay(9), measured=_delay(measured), difference=_delay(1), margin=0.001, verdict="agree",
        )
        for direction, measured in (("rising", 9.2), ("falling", 14.1), ("other", 2.5))
    )  # fmt: skip
    none = Estimate.not_resolved("none", unit="s")
    rest = Trace(
        kind="rest", axis="x",
        arrays={
            "t_s": np.arange(500) / 500, "reading": np.sin(np.arange(500.0)),
            "averaging_s": np.geomspace(0.01, 0.1, 5), "allan_deviation": np.geomspace(1, 0.1, 5),
        },
    )  # fmt: skip
    hand = HandResult(
        recording=Recording(streams=(), provenance=Provenance(specimen="birch")), n_reports=500, duration_s=1.0,
        timing=TimingResult(report_interval=none, host_jitter=none, lost_report_fraction=none),
        axes={}, release={}, flicks=(), caveats=(), traces=(rest,),
    )  # fmt: skip
    comparison = Comparison(baseline="alder", candidates=("birch",), metrics=(), chain=links)
    return report_html(Report(title="Loaner pads", hand=(hand,), comparison=comparison))


def _run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    if CHROMIUM is None:
        pytest.skip("there is no chromium here")
    command = [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'browser'}", *arguments, (folder / "page.html").as_uri()]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)


def _probed(folder: Path, library: str = "", *arguments: str) -> tuple[dict[str, Any], str]:
    script = "<script>" + library.replace("</script", "<\\/script") + "</script>" if library else ""
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", _page())
    (folder / "page.html").write_text(page.replace("</body>", script + PROBE + "</body>"), encoding="utf-8")
    run = _run(folder, "--virtual-time-budget=20000", "--window-size=1200,900", *arguments, "--dump-dom")
    found = re.search(r'<pre id="probe">(.*?)</pre>', run.stdout, re.DOTALL)
    assert found, run.stderr[-2000:]
    return json.loads(unescape(found.group(1))), run.stderr


def test_it_renders_sorts_and_can_be_reached_without_a_console_error(tmp_path: Path) -> None:
    found, log = _probed(tmp_path)
    assert "CONSOLE" not in log
    assert [row.split()[0] for row in found["before"]] == ["9.20", "14.10", "2.50"]
    assert [row.split()[0] for row in found["ascending"]] == ["2.50", "9.20", "14.10"]
    assert [row.split()[0] for row in found["descending"]] == ["14.10", "9.20", "2.50"]
    assert (found["said_ascending"], found["said_descending"]) == ("ascending", "descending")
    assert found["unreachable"] == 0
    assert found["figures"] == [True, False, True], "wide front, narrow front, rest"
    assert not found["too_wide"]
    assert found["data"] == "feelcheck.report/1"


@pytest.mark.parametrize("scheme", [(), ("--blink-settings=preferredColorScheme=0",)], ids=["light", "dark"])
def test_it_passes_an_accessibility_check(tmp_path: Path, scheme: tuple[str, ...]) -> None:
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("there is no npm here to fetch axe-core with")
    packed = subprocess.run(
        [npm, "pack", "axe-core", "--silent"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=300
    )
    archives = list(tmp_path.glob("axe-core-*.tgz"))
    if packed.returncode or not archives:
        pytest.skip("axe-core cannot be fetched from npm here")
    with tarfile.open(archives[0]) as archive:
        member = archive.extractfile("package/axe.min.js")
        assert member is not None
        library = member.read().decode()
    found, _ = _probed(tmp_path, library, *scheme)
    assert found["dark"] == bool(scheme)
    assert found["violations"] == []


def test_it_prints(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(_page(), encoding="utf-8")
    target = tmp_path / "page.pdf"
    _run(tmp_path, f"--print-to-pdf={target}", "--no-pdf-header-footer")
    data = target.read_bytes()
    assert data.startswith(b"%PDF")
    n_pages = len(re.findall(rb"/Type\s*/Page\b", data))
    assert 1 <= n_pages <= 4
    assert re.search(rb"/MediaBox\s*\[0 0 59[45]", data)
