"""The whole chain on the data that ships with the tool."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.model import Estimate, Making, Play, Report
from feelcheck.model.labels import specimen_label
from feelcheck.model.quantities import DELAY
from feelcheck.outputs import PAGE_TABLE, output
from feelcheck.pipeline._drawing import draw
from feelcheck.pipeline._gathering import gathered
from feelcheck.pipeline._parts import delay_from_parts
from feelcheck.pipeline._report import write_report
from feelcheck.pipeline._specimens import Specimen, specimen_of

__all__ = ["DemoRun", "demo", "shipped"]

SPECIMENS = {"alder": "as_found", "birch": "as_found", "cedar": "c3_lifted", "elm": "as_found"}
TURN_RATE_DEG_S = 200.0
MARGIN_MS = 1.0
LIFTED, CHANGE, AXIS = "cedar", "c3=lifted", "left_x"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DemoRun:
    """Everything the demo measured, and the files it wrote.

    `page` holds all results; `lifted` is what the parts of the third specimen predict (s) with its capacitor on the
    board and lifted.
    """

    page: Report
    lifted: tuple[Estimate, Estimate]
    written: tuple[Path, ...]


def shipped(folder: str) -> Path:
    """Return a folder of shipped data: inside the installed package, or beside it in a checkout.

    Raises
    ------
    FormatError
        If the data is not there.
    """
    package = Path(str(resources.files("feelcheck")))
    for place in (package / "_shipped" / folder, package.parent / folder):
        if place.is_dir():
            return place
    raise FormatError("The demo needs the data that ships with the tool.", {"folder": folder}, "Install it again.")


def demo(out: Path, *, overwrite: bool = False, say: Callable[[str], None] = lambda _: None) -> DemoRun:
    """Run the chain on four shipped specimens.

    Parameters
    ----------
    out : Path
        Folder for page, pictures and tables; made if missing.
    overwrite : bool
        Whether tables that the folder's page does not vouch for may be replaced.
    say : callable
        Called with one line before each step.
    """
    out.mkdir(parents=True, exist_ok=True)
    records = shipped("profiles")
    references = tuple(specimen_label(str(records / f"{name}.toml"), state) for name, state in SPECIMENS.items())
    making = Making(references=references, margin_ms=MARGIN_MS, play=Play(turn_rate_deg_s=TURN_RATE_DEG_S))
    page = gathered(making, find=_shipped_file, say=say)
    say("drawing three pictures")
    written = [*_draw(out, page), *_tabulate(out, page, overwrite=overwrite)]
    tables = [path for path in written if path.suffix == ".csv"]
    written.append(write_report(page, out / "report.html", tables=tables, say=say))
    return DemoRun(page=page, lifted=_lifted(str(records / f"{LIFTED}.toml")), written=tuple(written))


def _lifted(record: str) -> tuple[Estimate, Estimate]:
    """What the parts predict with the capacitor on the board, and lifted: asked of the record before anyone solders."""
    found = [delay_from_parts(specimen_of(name), AXIS, "rising") for name in (record, specimen_label(record, CHANGE))]
    missing = Estimate.not_resolved("smoothing_delay", unit="s")
    before, after = (missing if delay is None else delay.whole for delay in found)
    return before, after


def _shipped_file(path: str, specimen: Specimen) -> Path | None:
    """A file of the shipped data, never one of that name where the user stands."""
    place = Path(specimen.profile.path).parent.parent / path
    return place if path and place.exists() else None


def _draw(out: Path, page: Report) -> list[Path]:
    k = [*SPECIMENS].index("birch")
    draw([page.hand[k]], out / "birch_hand.svg")
    draw([page.bench[k]], out / "birch_bench.svg")
    names = ["birch_hand.svg", "birch_bench.svg"]
    if page.comparison is not None:
        delays = tuple(metric for metric in page.comparison.metrics if metric.name == DELAY)
        draw([replace(page.comparison, metrics=delays, traces=())], out / "comparison.svg")
        names.append("comparison.svg")
    return [out / name for name in names]


def _tabulate(out: Path, page: Report, *, overwrite: bool) -> list[Path]:
    from feelcheck.renderers.report import report_tables

    paths = []
    for name, text in report_tables(page).items():
        paths.append(out / f"{name}.csv")
        with output(paths[-1], PAGE_TABLE, overwrite=overwrite) as stream:
            stream.write(text.encode("utf-8"))
    return paths
