"""The JSON of `feelcheck rehearse`."""

from __future__ import annotations

from typing import Any

from feelcheck.model import PlayedStage, RehearsalRecord, RehearsalResult, TargetResponse, Trial
from feelcheck.renderers._json import caveat_object, dump, estimate_object

__all__ = ["REHEARSAL_SCHEMA", "rehearsal_document", "rehearsal_json", "rehearsal_record_object"]

REHEARSAL_SCHEMA = "feelcheck.rehearsal/1"


def rehearsal_json(result: RehearsalResult) -> str:
    """Return one JSON document."""
    return dump(rehearsal_document(result))


def rehearsal_document(result: RehearsalResult) -> dict[str, Any]:
    """Return the JSON object of a rehearsal; what was not measured is null."""
    estimates = _estimates(result)
    latency = {name: estimate_object(estimate) for name, estimate in result.latency.items()}
    return {
        "schema": REHEARSAL_SCHEMA,
        "kind": result.kind,
        "specimens": list(result.specimens),
        "n": result.n,
        "n_correct": result.n_correct,
        "p_value": result.p_value,
        "threshold": estimates.get("threshold"),
        "throughput": estimates.get("throughput"),
        "estimates": estimates,
        "plan": dict(result.plan),
        "question": result.question,
        "slowness": result.slowness,
        "placement": result.placement,
        "stick_in_hand": {
            **_target(result.stick.response),
            "report_interval_ms": 1e3 * result.stick.report_interval_s,
            "one_pole": result.stick.one_pole,
            "known_from": result.stick.known_from,
        },
        "played": [_stage(stage) for stage in result.stages],
        "latency": {name: latency.get(name) for name in ("report_to_state", "state_to_frame")},
        "n_frames": result.n_frames,
        "late_frames": result.late_frames,
        "trials": [_trial(trial) for trial in result.trials],
        "seal": result.seal,
        "salt": result.salt,
        "seed": result.seed,
        "aborted": result.aborted,
        "simulated": result.simulated,
        "date": result.date,
        "folder": result.folder,
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
        "cautions": list(result.cautions),
    }


def _target(response: TargetResponse) -> dict[str, Any]:
    return {
        "label": response.label,
        "origin": response.origin,
        "rising": estimate_object(response.x.rising),
        "falling": estimate_object(response.x.falling),
    }


def _stage(stage: PlayedStage) -> dict[str, Any]:
    return {
        "label": stage.label,
        "mode": stage.mode,
        "added_rising": estimate_object(stage.added_rising),
        "added_falling": estimate_object(stage.added_falling),
        "x": _added(stage.x),
        "y": _added(stage.y),
        "caveats": [caveat_object(caveat) for caveat in stage.caveats],
    }


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
        "number": trial.number,
        "first": trial.first,
        "second": trial.second,
        "slower": trial.slower,
        "answer": trial.answer or None,
        "right": trial.right if trial.counted else None,
        "added_ms": None if trial.added_s is None else 1e3 * trial.added_s,
        "counted": trial.counted,
        "why_not": trial.why_not,
    }


def rehearsal_record_object(record: RehearsalRecord) -> dict[str, Any]:
    """Return what a specimen's record keeps of a rehearsal as a JSON object."""
    plain = {
        name: getattr(record, name) for name in record.__dataclass_fields__ if name not in ("estimates", "intervals")
    }
    return {**plain, "specimens": list(record.specimens), "estimates": _estimates(record)}


def _estimates(source: RehearsalResult | RehearsalRecord) -> dict[str, Any]:
    """Estimates by quantity; exact intervals in place of symmetric ones."""
    found = {name: estimate_object(estimate) for name, estimate in source.estimates.items()}
    for name, (low, high) in source.intervals.items():
        found[name] |= {"low": low, "high": high}
    return found
