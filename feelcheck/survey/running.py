"""From what was found to the table: what stands from before is kept, the rest is measured, nothing done is lost."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from feelcheck.model import SurveyedFile
from feelcheck.outputs import Journal
from feelcheck.survey.engines import Engine
from feelcheck.survey.finding import Found
from feelcheck.survey.row_journal import RowJournal

__all__ = ["Measure", "Progress", "Surveyed", "rows_by_path", "run_survey"]

OVERHEAD_BYTES = 100_000
"""What a file costs beside its bytes, for the time left."""

Row = Mapping[str, Any]
Measure = Callable[[Found, str], SurveyedFile]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a survey came.

    Parameters
    ----------
    done, total, unchanged, failed : int
        Files done, files in all; how many stood from before and how many could not be measured.
    left_s : float or None, s
        Time that is left at the speed so far; None until something was measured.
    path : str
        The file that was done last.
    """

    done: int
    total: int
    unchanged: int
    failed: int
    left_s: float | None
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Surveyed:
    """What came of a run: rows by path, how many files were measured, unchanged and left, and whether it was cut."""

    rows: dict[str, tuple[Row, ...]]
    n_measured: int
    n_unchanged: int
    n_left: int
    others: int


@dataclass(frozen=True, slots=True)
class _Task:
    """Files that one process measures in one go, each with its hash in an older table."""

    files: tuple[tuple[Found, str], ...]


@dataclass(frozen=True, slots=True)
class _Work:
    """What a process does with a task; it travels to the process."""

    measure: Measure

    def __call__(self, task: _Task) -> list[SurveyedFile]:
        return [self.measure(found, known) for found, known in task.files]


def _died(task: _Task) -> list[SurveyedFile]:
    reason = "The process that measured it died (out of memory, or a fault in a library)."
    return [
        SurveyedFile(path=one.path, kind="", sha256="", reason=reason, rows=({"path": one.shown, "reason": reason},))
        for one, _ in task.files
    ]


def run_survey(
    files: Sequence[Found],
    measure: Measure,
    *,
    engine: Engine,
    known: Mapping[str, Sequence[Row]],
    journal: Path,
    version: str,
    progress: Callable[[Progress], None] = lambda _: None,
    per_task: int = 1,
) -> Surveyed:
    """Measure files and return their rows.

    Parameters
    ----------
    files : sequence of Found
        What to look at.
    measure : callable
        Takes a file and its hash in an older table; a function of a module, so that it can travel to other processes.
    engine : Engine
        Where it runs.
    known : mapping of str to rows
        Rows of an older table by path; they stand where the hash is the same.
    journal : Path
        Where what was done is kept until the table is written.
    version : str
        Of the tool and its plugins; rows of another version do not stand.
    progress : callable
        Told after each file.
    per_task : int
        How many files a process takes at a time.

    Notes
    -----
    Ctrl-C ends the run and returns what is done: what was left keeps its older rows, to be looked at next time.
    """
    with Journal(journal) as opened:
        kept = RowJournal(opened)
        known = {**known, **rows_by_path(kept.rows)}
        state = _State(files, known, kept, progress)
        pairs = [(found, _hash_in(known.get(found.path, ()), version)) for found in files]
        tasks = [_Task(tuple(pairs[k : k + per_task])) for k in range(0, len(pairs), per_task)]
        results = engine.run(_Work(measure), tasks, _died)
        with suppress(KeyboardInterrupt):
            for done in results:
                for one in done:
                    state.take(one)
        close = getattr(results, "close", None)
        if close is not None:
            close()
    return state.surveyed()


def rows_by_path(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Return a table's rows by the file they are of.

    Parameters
    ----------
    rows : iterable of Row
        Rows of a table.
    """
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(str(row["path"]), []).append(row)
    return found


def _hash_in(rows: Sequence[Row], version: str) -> str:
    stands = bool(rows) and rows[0].get("tool_version") == version
    return str(rows[0].get("sha256") or "") if stands else ""


class _State:
    """What was done so far."""

    def __init__(
        self,
        files: Sequence[Found],
        known: Mapping[str, Sequence[Row]],
        kept: RowJournal,
        tell: Callable[[Progress], None],
    ) -> None:
        self._known, self._kept, self._tell = known, kept, tell
        self._weights = {found.path: found.n_bytes + OVERHEAD_BYTES for found in files}
        self._begun_s, self._measured_weight, self._unmeasured_weight = time.monotonic(), 0, sum(self._weights.values())
        self._done: dict[str, SurveyedFile] = {}
        self._n_failed = self._n_unchanged = 0

    def take(self, one: SurveyedFile) -> None:
        self._done[one.path] = one
        self._n_failed += bool(one.reason)
        self._n_unchanged += one.unchanged
        weight = self._weights[one.path]
        self._unmeasured_weight -= weight
        if not one.unchanged:
            self._measured_weight += weight
            if one.rows:
                self._kept.add(one.rows)
        self._tell(
            Progress(
                done=len(self._done),
                total=len(self._weights),
                unchanged=self._n_unchanged,
                failed=self._n_failed,
                left_s=self._left_s(),
                path=one.path,
            )
        )

    def _left_s(self) -> float | None:
        if not self._measured_weight:
            return None
        return (time.monotonic() - self._begun_s) * self._unmeasured_weight / self._measured_weight

    def surveyed(self) -> Surveyed:
        rows = {path: tuple(self._rows(path)) for path in self._weights}
        done = self._done.values()
        return Surveyed(
            rows={path: own for path, own in rows.items() if own},
            n_measured=sum(not one.unchanged and bool(one.rows) for one in done),
            n_unchanged=self._n_unchanged,
            n_left=len(self._weights) - len(self._done),
            others=sum(not one.rows and not one.unchanged for one in done),
        )

    def _rows(self, path: str) -> Iterator[Row]:
        one = self._done.get(path)
        yield from (self._known.get(path, ()) if one is None or one.unchanged else one.rows)
