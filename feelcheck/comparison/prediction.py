"""A flick's tail in the hand predicted from the bench alone, with a band whose width is told.

After the stick stops at the rim its true position is constant, so the log's tail is the electronics' own response. The
prediction takes its shape from the bench; from the log it takes only where the tail starts and where it ends (two
numbers a flick), never its course.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.comparison.numbers import BAND_FACTOR, RIM_GIVE_FS
from feelcheck.model import FloatArray, Trace

__all__ = ["PredictedTail", "predict_tail", "prediction_trace"]


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
    tau_s: float,
    *,
    u_relative: float,
    step_fs: float,
    noise_fs: float,
    jitter_s: float,
    rim_fs: float | None = None,
) -> PredictedTail:
    """Predict a tail from the bench's slowest pole.

    Parameters
    ----------
    t_s, recorded_fs : ndarray, shape (n,)
        Reports of one tail, the first one after contact, the last ones at rest.
    tau_s : float, s
        Slowest pole measured on the bench.
    u_relative : float
        Its relative standard uncertainty.
    step_fs, noise_fs, jitter_s : float
        Quantization step, rest noise (rms) and time-stamp jitter of the log.
    rim_fs : float, optional
        How far the stopped stick may still move (rms); `RIM_GIVE_FS` where it is not told.

    Notes
    -----
    One pole decays from its first report as exp(-t / tau) whatever the motion before; of several poles the slowest
    governs the tail once the others have died away. The end is where that decay leads from the first report to the
    last fifth. The band is meant to hold 90 % of the reports. It adds in squares: the tail's change when the pole
    moves by its uncertainty, slope times jitter, the rim's give, and noise or half a step's rms, whichever is larger,
    of the report, of the first one, and of the median that tells the end.
    """
    since = t_s - t_s[0]
    decay = np.exp(-since / tau_s)
    last = slice(-max(3, recorded_fs.size // 5), None)
    ends = (recorded_fs[last] - recorded_fs[0] * decay[last]) / (1.0 - decay[last])
    end = float(np.median(ends))
    height = float(recorded_fs[0]) - end
    predicted = end + height * decay
    by_pole = np.abs(height) * (since / tau_s) * decay * u_relative
    by_time = np.abs(height) / tau_s * decay * jitter_s
    white = max(noise_fs, step_fs / np.sqrt(12.0))
    anchors = decay**2 + np.pi / 2 / ends.size * (1.0 - decay) ** 2
    rim_fs = RIM_GIVE_FS if rim_fs is None else rim_fs
    half = BAND_FACTOR * np.sqrt(by_pole**2 + by_time**2 + white**2 * (1.0 + anchors) + rim_fs**2)
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
    """Return the arrays behind the overlay of a predicted and a recorded tail.

    Parameters
    ----------
    tail : PredictedTail
        The tail that the bench predicts, with the recorded one.
    axis : str
        Name of the axis.
    direction : str
        ``rising`` or ``falling`` codes.
    """
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
