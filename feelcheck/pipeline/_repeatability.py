"""Gauge studies: how far one quantity repeats over hands, specimens and recordings."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path

from feelcheck.comparison import repeatability_of
from feelcheck.counted import counted
from feelcheck.errors import FormatError, NotComparableError, NotEnoughDataError
from feelcheck.formats.session_header import HEADER_FILE
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import Caveat, RepeatabilityResult, SessionOnShelf
from feelcheck.model.labels import specimen_label
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._specimens import sessions_in
from feelcheck.profiles import hand_record_of

__all__ = ["repeatability"]

MOST_NAMED = 6
"""How many sessions a message lists."""


def repeatability(
    source: Path, *, metric: str = "smoothing_delay", axis: str = "", direction: str = "rising"
) -> RepeatabilityResult:
    """Run a gauge study.

    Parameters
    ----------
    source : Path
        A folder of sessions (each knows its operator and specimen), a folder ``operator/specimen/recording``, or a
        table with columns operator, specimen, repeat, value.
    metric, axis, direction : str
        Quantity taken from each recording; the first axis that answers if none is named.

    Raises
    ------
    NotComparableError
        If sessions were recorded by unlike scripts.
    NotEnoughDataError
        If there are too few operators, specimens or repeats, or a recording does not answer.
    """
    if not source.exists():
        raise FormatError("There is no such file or folder.", {"path": source}, "Check the path.")
    if source.is_file():
        rows, unit = read_study_table(source)
        return repeatability_of(study_array(rows), metric=metric, unit=unit)
    if any((child / HEADER_FILE).is_file() for child in source.iterdir()):
        return _of_sessions(source, metric, axis, direction)
    rows = []
    for operator in sorted(child for child in source.iterdir() if child.is_dir()):
        for specimen in sorted(child for child in operator.iterdir() if child.is_dir()):
            for repeat, session in enumerate(sessions_in(specimen), start=1):
                value, unit = _one_value(session, metric, axis, direction)
                rows.append((operator.name, specimen.name, str(repeat), value))
    if not rows:
        raise NotEnoughDataError(
            "A gauge study is a folder operator/specimen/recording.", {"path": source}, "Sort the recordings so."
        )
    return repeatability_of(study_array(rows), metric=metric, unit=unit)


def _of_sessions(shelf: Path, metric: str, axis: str, direction: str) -> RepeatabilityResult:
    """A study of the finished sessions in a folder, by what they say of themselves."""
    finished = [session for session in sessions_on_shelf(shelf) if session.recording == "complete"]
    _check_sessions(finished, shelf)
    cells: dict[tuple[str, str], list[Path]] = defaultdict(list)
    for session in finished:
        cells[session.operator, specimen_label(session.specimen, session.state)].append(session.folder)
    operators, specimens = ({cell[k] for cell in cells} for k in range(2))
    n = min(len(cells.get(cell, ())) for cell in product(operators, specimens))
    if min(n, len(operators), len(specimens)) < 2:
        raise NotEnoughDataError(
            "A gauge study needs two operators, two specimens and two finished sessions of each by each.",
            {f"{operator}, {specimen}": len(cells.get((operator, specimen), ()))
             for operator, specimen in product(sorted(operators), sorted(specimens))},
            "Record what is missing with: feelcheck log, and say who holds the pad.",
        )  # fmt: skip
    rows, unit = [], ""
    for (operator, specimen), folders in cells.items():
        for repeat, folder in enumerate(folders[:n], start=1):
            value, unit = _one_value(folder, metric, axis, direction)
            rows.append((operator, specimen, str(repeat), value))
    result = repeatability_of(study_array(rows), metric=metric, unit=unit)
    left_out = len(finished) - len(rows)
    if not left_out:
        return result
    text = f"{counted(left_out, 'session was', 'sessions were')} left out: every operator counts every specimen "
    text += f"{counted(n, 'time')}, the earliest first."
    return replace(result, caveats=(*result.caveats, Caveat(code="uneven_study", text=text)))


def _check_sessions(finished: Sequence[SessionOnShelf], shelf: Path) -> None:
    """Refuse before anything is measured what no study can be made of."""
    scripts = Counter(session.script for session in finished)
    if len(scripts) > 1:
        facts = {f"script {name or 'unknown'}": counted(n, "session") for name, n in scripts.items()}
        raise NotComparableError(
            "Only sessions of one script make a gauge study.", facts, "Put those of one script into a folder."
        )
    nameless = [session.folder.name for session in finished if not session.operator]
    if nameless:
        more = f" and {len(nameless) - MOST_NAMED} more" if len(nameless) > MOST_NAMED else ""
        raise NotEnoughDataError(
            "A gauge study needs to know who held the pad.",
            {"folder": shelf, "sessions without an operator": ", ".join(nameless[:MOST_NAMED]) + more},
            "Sort the sessions into folders operator/specimen, or record them anew and say who holds the pad.",
        )


def _one_value(session: Path, metric: str, axis: str, direction: str) -> tuple[float, str]:
    groups = hand_record_of(analyze(session)).axes
    for name in [axis] if axis else list(groups):
        estimate = groups.get(name, {}).get(direction, {}).get(metric) or groups.get(name, {}).get("", {}).get(metric)
        if estimate is not None and estimate.value is not None:
            return estimate.value, estimate.unit
    raise NotEnoughDataError(
        "Every recording of a gauge study must answer the metric.",
        {"recording": session, "metric": metric, "axis": axis or "any", "direction": direction},
        "Record it again, or study another metric.",
    )
