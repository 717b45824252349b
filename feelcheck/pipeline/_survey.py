"""Every session, log and capture below some paths in one table, and where a new one lies among them."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from feelcheck import __version__, plugins
from feelcheck.comparison.placing import place
from feelcheck.comparison.population import population_of
from feelcheck.comparison.survey_columns import columns_of
from feelcheck.errors import FeelcheckError
from feelcheck.formats.readings import is_readings
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.survey_table import read_survey, write_parts, write_survey
from feelcheck.model import BenchResult, HandResult, Placement, SurveyedFile, SurveyResult
from feelcheck.outputs import HEADER_FILE, SURVEY_PAGE, SURVEY_TABLE, check_output, output, voucher
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._captures import looks_captured
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._readers import log_claim
from feelcheck.pipeline._references import listed
from feelcheck.renderers.survey_rows import survey_rows
from feelcheck.survey import Found, Progress, engine_of, find_files, hash_of, rows_by_path, run_survey
from feelcheck.survey.finding import TABULAR

__all__ = ["check_population", "kind_of_file", "measure_file", "placed_in", "survey"]

LIKELY_CAPTURE, LIKELY_LOG, SURE = 0.2, 0.3, 0.5
MOST_FILES_A_TASK, TASKS_A_WORKER = 64, 16
OWN_TABLE = "path,kind,specimen,state,batch,"


def survey(
    paths: str | Path | Sequence[str | Path],
    out: str | Path,
    *,
    jobs: int | None = None,
    dask: str = "",
    again: bool = False,
    overwrite: bool = False,
    progress: Callable[[Progress], None] = lambda _: None,
) -> SurveyResult:
    """Measure every session, log and capture below some paths into one table, with a page of the population beside it.

    Parameters
    ----------
    paths : str, Path or sequence of them
        Folders, sessions and files; what each is, is recognised.
    out : str or Path
        The table (``.csv`` or ``.parquet``). One that is there already is brought up to date: files whose hash is the
        same, measured by the same version, are not measured again.
    jobs : int, optional
        Processes on this machine; as many as it has processors if not given.
    dask : str
        Address of a Dask scheduler whose workers see the same paths; a ``.parquet`` table then is a folder of parts.
    again : bool
        Whether everything is measured anew.
    overwrite : bool
        Whether an existing CSV file that the tool cannot recognise as its own may be replaced.
    progress : callable
        Told after each file.

    Returns
    -------
    SurveyResult
        Also after Ctrl-C, with what was done until then.

    Raises
    ------
    OutputError
        If the table or the page may not go there.
    FormatError
        If a path does not exist or the older table cannot be read.
    SourceError
        If the cluster does not answer.
    """
    several = [Path(path) for path in listed(paths)]
    table, page, journal = Path(out), Path(out).with_suffix(".html"), Path(f"{out}.progress")
    check_output(table, SURVEY_TABLE, inputs=filter(Path.is_file, several), overwrite=overwrite)
    check_output(page, SURVEY_PAGE)
    files = find_files(several, leave_out=(table, page, journal))
    known = rows_by_path(read_survey(table)[1]) if table.exists() and not again else {}
    engine = engine_of(jobs=jobs, dask=dask, n_tasks=len(files))
    done = run_survey(
        files,
        measure_file,
        engine=engine,
        known=known,
        journal=journal,
        version=tool_version(),
        progress=progress,
        per_task=min(MOST_FILES_A_TASK, 1 + len(files) // (TASKS_A_WORKER * engine.n_workers)) if dask else 1,
    )
    rows = [row for _, own in sorted(done.rows.items()) for row in own]
    columns = columns_of({name for row in rows for name in row})
    if dask and table.suffix.lower() == ".parquet":
        write_parts(rows, columns, table)
    else:
        write_survey(rows, columns, table, overwrite=True)
    result = SurveyResult(
        table=str(table),
        page=str(page),
        columns=columns,
        rows=rows,
        n_measured=done.n_measured,
        n_unchanged=done.n_unchanged,
        n_left=done.n_left,
        others=done.others,
        population=population_of(rows, columns),
        facts={"made at": datetime.now(UTC).isoformat(timespec="seconds"), "tool version": tool_version()},
    )
    write_page(result)
    journal.unlink(missing_ok=True)
    return result


def write_page(result: SurveyResult) -> None:
    """Write the page of the population beside the table."""
    from feelcheck.renderers.survey_page import survey_page

    table = Path(result.table)
    vouched = voucher([table]) if table.suffix.lower() == ".csv" else ""
    with output(Path(result.page), SURVEY_PAGE) as stream:
        stream.write(survey_page(result, mark=SURVEY_PAGE.mark, voucher=vouched).encode())


@functools.cache
def tool_version() -> str:
    """Return the version that measures: the tool's, and those of other distributions' plugins of an analysis."""
    others = {
        f"{plugin.distribution} {plugin.version}"
        for group in plugins.OF_ANALYSIS
        for plugin in plugins.registered(group)
        if plugin.distribution != "feelcheck"
    }
    return " + ".join((__version__, *sorted(others)))


def measure_file(found: Found, known: str) -> SurveyedFile:
    """Measure one file for a survey; a file that cannot be measured gives a row with the reason, never an error.

    Parameters
    ----------
    found : Found
        The file or session folder.
    known : str
        Its hash in an older table, empty if there is none.
    """
    kind, sha = "", ""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sha = hash_of(Path(found.path))
            if sha == known:
                return SurveyedFile(path=found.path, kind="", sha256=sha, unchanged=True)
            kind = _kind(found)
            return _rows_of(found, kind, sha) if kind else SurveyedFile(path=found.path, kind="", sha256=sha)
    except FeelcheckError as problem:
        reason = " ".join(filter(None, (problem.sentence, problem.next_step)))
    except OSError as problem:
        reason = f"The system refused: {problem.strerror}."
    except MemoryError:
        reason = "There is not enough memory for it."
    except Exception as problem:  # one file never ends a survey of thousands
        reason = f"A fault of the tool: {type(problem).__name__}: {problem}"
    row = {**_about(found, kind, sha), "reason": " ".join(reason.split())}
    return SurveyedFile(path=found.path, kind=kind, sha256=sha, rows=(row,), reason=row["reason"])


def _kind(found: Found) -> str:
    """What a file is taken for; empty where it is none of ours."""
    path = Path(found.path)
    if path.is_dir():
        return "session"
    if _is_own_table(path) and not found.named:
        return ""
    expected = found.named or path.suffix.lower() in TABULAR
    least = LIKELY_CAPTURE if expected else SURE
    if is_readings(path) or looks_captured(path, least, any_ending=not expected):
        return "capture"
    return "log" if expected or log_claim(path) > LIKELY_LOG else ""


def _is_own_table(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(len(OWN_TABLE)) == OWN_TABLE.encode()


def kind_of_file(path: Path) -> str:
    """Return what a path that a user names is taken for: ``"session"``, ``"capture"`` or ``"log"``.

    Parameters
    ----------
    path : Path
        It must be there.
    """
    return _kind(Found(path=str(path), batch="", n_bytes=0, named=True)) or "log"


def _rows_of(found: Found, kind: str, sha: str) -> SurveyedFile:
    result = bench(found.path) if kind == "capture" else analyze(found.path)
    about = {**_about(found, kind, sha), **_told(result)}
    rows = tuple({**about, **row} for row in survey_rows(result.to_dict()))
    if not rows:
        about["reason"] = "There is no axis or edge to measure."
        rows = (about,)
    return SurveyedFile(path=found.path, kind=kind, sha256=sha, rows=rows, reason=str(about["reason"]))


def _about(found: Found, kind: str, sha: str) -> dict[str, Any]:
    row: dict[str, Any] = dict.fromkeys(("specimen", "state", "recorded", "axis", "direction", "reason"), "")
    row |= {"path": found.shown, "kind": kind, "batch": found.batch, "simulated": False, "complete": True}
    row |= {"sha256": sha, "tool_version": tool_version()}
    with suppress(FeelcheckError, OSError):  # a spoilt header says nothing; that it is spoilt is the row's reason
        if kind == "session" and (Path(found.path) / HEADER_FILE).is_file():
            header = SessionHeader.read(Path(found.path))
            row |= {"specimen": header.specimen, "state": header.state, "recorded": header.started}
            row |= {"batch": header.facts.get("batch", found.batch), "complete": header.recording == "complete"}
            row |= {"simulated": bool(header.device.get("simulated"))}
    return row


def _told(result: HandResult | BenchResult) -> dict[str, Any]:
    provenance = result.capture.provenance if isinstance(result, BenchResult) else result.recording.provenance
    told = {"specimen": provenance.specimen, "state": provenance.state, "batch": provenance.facts.get("batch", "")}
    return {**{k: v for k, v in told.items() if v}, "simulated": provenance.simulated, "complete": provenance.complete}


def check_population(table: str | Path | None) -> None:
    """Refuse what is no table of a survey before anything is measured against it; raises as `placed_in` does."""
    if table is not None:
        read_survey(table)


def placed_in(table: str | Path, results: Sequence[HandResult | BenchResult]) -> list[Placement]:
    """Return where new results lie in the population of a survey's table.

    Parameters
    ----------
    table : str or Path
        What a survey wrote.
    results : sequence of HandResult or BenchResult
        The new ones; rows of the very files they were made from are left out of the population.

    Raises
    ------
    FormatError
        If the table cannot be read.
    """
    columns, rows = read_survey(table)
    new = [row for result in results for row in _new_rows(result)]
    return place(new, rows, columns_of({*columns, *(name for row in new for name in row)}))


def _new_rows(result: HandResult | BenchResult) -> Iterable[dict[str, Any]]:
    capture = isinstance(result, BenchResult)
    provenance = result.capture.provenance if isinstance(result, BenchResult) else result.recording.provenance
    path = Path(provenance.path)
    kind = "capture" if capture else "session" if path.is_dir() else "log"
    sha = hash_of(path) if provenance.path and path.exists() else ""
    found = Found(path=provenance.path, batch="", n_bytes=0, named=True)
    for row in survey_rows(result.to_dict()):
        yield {**_about(found, kind, sha), **_told(result), **row}
