"""The whole chain on the data that ships with the tool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.model import BenchResult, Comparison, Estimate, HandResult, Play, Report
from feelcheck.outputs import PAGE_TABLE, output
from feelcheck.pipeline._bench import bench, draw_bench
from feelcheck.pipeline._compare import compare_specimens, draw_comparison
from feelcheck.pipeline._feel import feel_specimens
from feelcheck.pipeline._hand import analyze, draw_hand
from feelcheck.pipeline._parts import delay_from_parts
from feelcheck.pipeline._prediction import predictions_of
from feelcheck.pipeline._report import captured_of, page_of, write_report
from feelcheck.pipeline._specimens import specimen_of

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
    logs, records = shipped("demo_logs"), shipped("profiles")
    references = [
        str(records / f"{name}.toml") + ("" if state == "as_found" else f"@{state}")
        for name, state in SPECIMENS.items()
    ]
    hand = {}
    for k, (name, state) in enumerate(SPECIMENS.items(), start=1):
        say(f"reading the recording of {name}'s stick, {k} of {len(SPECIMENS)}")
        hand[name] = analyze(logs / f"{name}_{state}")
    specimens = [specimen_of(reference) for reference in references]
    bench_results = []
    for k, specimen in enumerate(specimens, start=1):
        name = specimen.profile.specimen
        say(f"reading the capture of {name}'s sensor on the bench, {k} of {len(specimens)}")
        capture = next(iter(sorted(logs.glob(f"{name}_field_step.*"))))
        bench_results.append(captured_of(specimen, bench(capture)))
    say("comparing the specimens")
    comparison = compare_specimens(specimens[0], specimens[1:], margin_ms=MARGIN_MS)
    tails = [predictions_of(s, result) for s, result in zip(specimens, hand.values(), strict=True)]
    comparison = replace(comparison, traces=tuple(trace for found in tails for trace in found))
    in_use = tuple(feel_specimens(specimens, Play(turn_rate_deg_s=TURN_RATE_DEG_S)))
    page = page_of(specimens, bench_results, [*hand.values()], comparison, in_use)
    say("drawing three pictures")
    written = [*_draw(out, hand, bench_results, comparison), *_tabulate(out, page, overwrite=overwrite)]
    tables = [path for path in written if path.suffix == ".csv"]
    written.append(write_report(page, out / "report.html", tables=tables, say=say))
    return DemoRun(page=page, lifted=_lifted(str(records / f"{LIFTED}.toml")), written=tuple(written))


def _lifted(record: str) -> tuple[Estimate, Estimate]:
    """What the parts predict with the capacitor on the board, and lifted: asked of the record before anyone solders."""
    found = [delay_from_parts(specimen_of(name), AXIS, "rising") for name in (record, f"{record}@{CHANGE}")]
    missing = Estimate.not_resolved("smoothing_delay", unit="s")
    before, after = (missing if delay is None else delay.whole for delay in found)
    return before, after


def _draw(out: Path, hand: dict[str, HandResult], benches: Sequence[BenchResult], comparison: Comparison) -> list[Path]:
    draw_hand([hand["birch"]], out / "birch_hand.png")
    draw_bench([benches[[*SPECIMENS].index("birch")]], out / "birch_bench.png")
    delays = tuple(metric for metric in comparison.metrics if metric.name == "smoothing_delay")
    draw_comparison(replace(comparison, metrics=delays, traces=()), out / "comparison.png")
    return [out / name for name in ("birch_hand.png", "birch_bench.png", "comparison.png")]


def _tabulate(out: Path, page: Report, *, overwrite: bool) -> list[Path]:
    from feelcheck.renderers.report import report_tables

    paths = []
    for name, text in report_tables(page).items():
        paths.append(out / f"{name}.csv")
        with output(paths[-1], PAGE_TABLE, overwrite=overwrite) as stream:
            stream.write(text.encode("utf-8"))
    return paths
