"""Gauge studies: how far one quantity repeats over hands, specimens and recordings."""

from __future__ import annotations

from pathlib import Path

from feelcheck.comparison import repeatability_of
from feelcheck.errors import FormatError, NotEnoughDataError
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import RepeatabilityResult
from feelcheck.outputs import REPEATABILITY_FIGURE
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._specimens import sessions_in
from feelcheck.profiles import hand_record_of

__all__ = ["draw_repeatability", "repeatability"]


def repeatability(
    source: Path, *, metric: str = "smoothing_delay", axis: str = "", direction: str = "rising"
) -> RepeatabilityResult:
    """Run a gauge study.

    Parameters
    ----------
    source : Path
        A folder ``operator/specimen/recording``, or a table with columns operator, specimen, repeat, value.
    metric, axis, direction : str
        Quantity taken from each recording; the first axis that answers if none is named.
    """
    if not source.exists():
        raise FormatError("There is no such file or folder.", {"path": source}, "Check the path.")
    if source.is_file():
        rows, unit = read_study_table(source)
        return repeatability_of(study_array(rows), metric=metric, unit=unit)
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


def draw_repeatability(result: RepeatabilityResult, path: Path) -> None:
    """Draw how the variance of a gauge study splits."""
    from feelcheck.renderers._saving import save_figure
    from feelcheck.renderers.compare_figures import repeatability_figure

    save_figure(repeatability_figure(result), path, REPEATABILITY_FIGURE)


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
