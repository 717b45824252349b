"""A flick's tail in the hand predicted from the bench alone, with a band whose width is told.

After the stick stops at the rim its true position is constant, so the log's tail is the electronics' own response. The
prediction takes its shape from the bench; from the log it takes only where the tail starts and where it ends (two
numbers a flick), never its course.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray, Trace

__all__ = ["PredictedTail", "predict_tail", "prediction_trace"]

BAND_FACTOR = 2.0
RIM_GIVE_FS = 0.002
"""What slide, bounce and give of a rim are allowed to move a stopped stick (rms, fractions of full throw; assumed)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PredictedTail:
    """A predicted tail and its band, on the recorded instants.

    Parameters
    ----------
    t_s, recorded_fs, predicted_fs, low_fs, high_fs : ndarray, shape (n,)
        Time since the tail's start, fractions of full throw.
    inside_fraction : float
        Share of the recorded reports inside the band, the two boundary reports left out.
    mean_width_fraction : float
        Mean width of the band relative to the tail's height.
    """

    t_s: FloatArray
    recorded_fs: FloatArray
    predicted_fs: FloatArray
    low_fs: FloatArray
    high_fs: FloatArray
    inside_fraction: float
    mean_width_fraction: float


def predict_tail(
    t_s: FloatArray,
    recorded_fs: FloatArray,
    poles_s: Sequence[float],
    *,
    u_relative: float,
    step_fs: float,
    noise_fs: float,
    jitter_s: float,
    rim_fs: float = RIM_GIVE_FS,
) -> PredictedTail:
    """Predict a tail from the bench's poles.

    Parameters
    ----------
    t_s, recorded_fs : ndarray, shape (n,)
        Reports of one tail, the first one after contact, the last ones at rest.
    poles_s : sequence of float, s
        Poles measured on the bench.
    u_relative : float
        Relative standard uncertainty of the bench's delay.
    step_fs, noise_fs, jitter_s : float
        Quantization step, rest noise (rms) and time-stamp jitter of the log.
    rim_fs : float
        How far the stopped stick may still move (rms).

    Notes
    -----
    One pole decays from its first report as exp(-t / tau) whatever the motion before; of several poles the slowest
    governs the tail. The end is where that decay leads from the first report to the last fifth. The band adds, in
    squares, twice: the tail's change when the delay moves by its uncertainty, the step's rms in each of start, end
    and report, noise, and slope times jitter.
    """
    tau = max([*poles_s, 1e-6])
    since = t_s - t_s[0]
    decay = np.exp(-since / tau)
    last = slice(-max(3, recorded_fs.size // 5), None)
    end = float(np.median((recorded_fs[last] - recorded_fs[0] * decay[last]) / (1.0 - decay[last])))
    height = float(recorded_fs[0]) - end
    predicted = end + height * decay
    by_delay = np.abs(height) * (since / tau) * decay * u_relative
    by_time = np.abs(height) / tau * decay * jitter_s
    by_step = step_fs / np.sqrt(12.0) * np.sqrt(2.0 + decay**2)
    half = BAND_FACTOR * np.sqrt(by_delay**2 + by_time**2 + by_step**2 + 2 * noise_fs**2 + rim_fs**2)
    inside = np.abs(recorded_fs - predicted) <= half
    return PredictedTail(
        t_s=since,
        recorded_fs=recorded_fs,
        predicted_fs=predicted,
        low_fs=predicted - half,
        high_fs=predicted + half,
        inside_fraction=float(inside[1:-1].mean()) if inside.size > 2 else 0.0,
        mean_width_fraction=float(np.mean(2 * half) / abs(height)) if height else float("inf"),
    )


def prediction_trace(tail: PredictedTail, axis: str, direction: str) -> Trace:
    """Return the arrays behind the overlay of a predicted and a recorded tail."""
    return Trace(
        kind="prediction",
        axis=axis,
        arrays={
            "t_s": tail.t_s,
            "recorded_fs": tail.recorded_fs,
            "predicted_fs": tail.predicted_fs,
            "low_fs": tail.low_fs,
            "high_fs": tail.high_fs,
        },
        marks={"inside_fraction": tail.inside_fraction, "mean_width_fraction": tail.mean_width_fraction},
        labels={"direction": direction},
    )
