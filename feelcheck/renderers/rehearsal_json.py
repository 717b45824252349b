"""The JSON of `feelcheck rehearse`."""

from __future__ import annotations

from typing import Any

from feelcheck.model import PlayedStage, RehearsalRecord, RehearsalResult, TargetResponse, Trial
from feelcheck.renderers._json import dump, encoded, picked

__all__ = ["REHEARSAL_SCHEMA", "rehearsal_document", "rehearsal_json", "rehearsal_record_object"]

REHEARSAL_SCHEMA = "feelcheck.rehearsal/1"


def rehearsal_json(result: RehearsalResult) -> str:
    """Return one JSON document.

    Parameters
    ----------
    result : RehearsalResult
        The result.
    """
    return dump(rehearsal_document(result))


def rehearsal_document(result: RehearsalResult) -> dict[str, Any]:
    """Return the JSON object of a rehearsal; what was not measured is null.

    Parameters
    ----------
    result : RehearsalResult
        What the command gives.
    """
    estimates = _estimates(result)
    stick = {
        **_target(result.stick.response),
        "report_interval_ms": 1e3 * result.stick.report_interval_s,
        **picked(result.stick, "one_pole", "known_from"),
    }
    return {
        "schema": REHEARSAL_SCHEMA,
        **picked(result, "kind", "specimens", "n", "n_correct", "p_value"),
        "threshold": estimates.get("threshold"),
        "throughput": estimates.get("throughput"),
        "estimates": estimates,
        **picked(result, "plan", "question", "slowness", "placement"),
        "stick_in_hand": stick,
        "played": [_stage(stage) for stage in result.stages],
        "latency": {name: encoded(result.latency.get(name)) for name in ("report_to_state", "state_to_frame")},
        **picked(result, "n_frames", "late_frames"),
        "trials": [_trial(trial) for trial in result.trials],
        **picked(result, "seal", "salt", "seed", "aborted", "simulated", "date", "folder", "caveats", "cautions"),
    }


def _target(response: TargetResponse) -> dict[str, Any]:
    return {**picked(response, "label", "origin"), **picked(response.x, "rising", "falling")}


def _stage(stage: PlayedStage) -> dict[str, Any]:
    added = {"x": _added(stage.x), "y": _added(stage.y)}
    return {**picked(stage, "label", "mode", "added_rising", "added_falling"), **added, **picked(stage, "caveats")}


def _added(added: Any) -> dict[str, Any]:
    """The added response of an axis; times in ms, the step as a fraction of throw."""
    in_ms = {
        name.removesuffix("_s") + "_ms": 1e3 * getattr(added, name)
        for name in ("own_rising_s", "own_falling_s", "dead_time_s", "refresh_s")
    }
    return {
        "rising_poles_ms": [1e3 * tau for tau in added.rising_poles_s],
        "falling_poles_ms": [1e3 * tau for tau in added.falling_poles_s],
        **in_ms,
        "step_fraction": added.step,
    }


def _trial(trial: Trial) -> dict[str, Any]:
    return {
        **picked(trial, "number", "first", "second", "slower"),
        "answer": trial.answer or None,
        "right": trial.right if trial.counted else None,
        "added_ms": None if trial.added_s is None else 1e3 * trial.added_s,
        **picked(trial, "counted", "why_not"),
    }


def rehearsal_record_object(record: RehearsalRecord) -> dict[str, Any]:
    """Return what a specimen's record keeps of a rehearsal as a JSON object.

    Parameters
    ----------
    record : RehearsalRecord
        What a specimen's record keeps of a rehearsal.
    """
    plain = {name: value for name, value in encoded(record).items() if name not in ("estimates", "intervals")}
    return {**plain, "estimates": _estimates(record)}


def _estimates(source: RehearsalResult | RehearsalRecord) -> dict[str, Any]:
    """Estimates by quantity; exact intervals in place of symmetric ones."""
    found: dict[str, Any] = encoded(source.estimates)
    for name, (low, high) in source.intervals.items():
        found[name] |= {"low": low, "high": high}
    return found
