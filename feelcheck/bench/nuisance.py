"""What small effects of real circuits and instruments would change that no chosen candidate has."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from feelcheck.bench.fit import ModelFit, integrated_correlation
from feelcheck.bench.response_models import separable_model, shape_response
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.separable import jacobian

__all__ = ["nuisance_spread"]

EFFECT = 0.01
"""Standard deviation that each effect is given beforehand, as a share of the swing at its largest. The choice of model
looks for effects of 0.4 % and more, where noise lets it."""
ODDS = 0.3
"""Of each effect against none, beforehand."""
TAIL = 5.0
MOST_FITS = 3
HIGHEST_LOG_WEIGHT = 300.0


def nuisance_spread(fits: Sequence[ModelFit], slope: Callable[[ModelFit], FloatArray], delays: bool = False) -> float:
    """Return the standard uncertainty of a quantity from effects beside the chosen candidate.

    Parameters
    ----------
    fits : sequence of ModelFit
        Edges of one direction; what an effect changes is the same in all of them.
    slope : callable
        From a fit to the quantity's slope by all its parameters, shape (p,).
    delays : bool
        Whether the quantity is a mean delay, to which an effect of the circuit adds its own.

    Notes
    -----
    Each effect is a column beside the model: the whole response later (a second pole, a dead time, channels that are
    sampled one after the other), spread to both sides (values that are held), a part at once (a resistance in series
    with the capacitor, a slow drive probe), a slow tail (a capacitor that soaks, an AC-coupled input), a part in step
    with the drive's slope (a wire beside the coil), a curve in either channel, a straight drift. Linear in its size,
    which has a normal prior, the effect's posterior and its Bayes factor against nothing are closed forms; the
    quantity's second moment about the chosen value is averaged over the effects and over none.

    References
    ----------
    J. A. Hoeting et al., Statist. Sci. 14 (1999) 382-417 (Bayesian model averaging).
    """
    found = [_spread(fit, slope(fit), delays) for fit in fits[:MOST_FITS] if fit.fit.full_rank]
    return float(np.median(found)) if found else 0.0


def _spread(fit: ModelFit, slope: FloatArray, delays: bool) -> float:
    t, model = fit.window.t_s, separable_model(fit.spec, fit.window, fit.scale_s)
    j = jacobian(model, fit.fit.theta, fit.fit.coefficients, t.size)
    size = np.linalg.norm(j, axis=1)
    if not np.all(size > 0):
        return 0.0
    inverse = np.linalg.pinv((j / size[:, None]).T, rcond=1e-5) / size[:, None]
    total, weights = 0.0, 1.0
    for column, is_own in _effects(fit):
        moved = inverse @ column
        left = column - moved @ j
        if float(left @ left) < 1e-12 * float(column @ column):
            continue
        shift = float(slope @ moved) + (float(np.trapezoid(column, t)) / fit.window.swing if delays and is_own else 0.0)
        size_sq, weight = _posterior(fit, left)
        total += weight * shift**2 * size_sq
        weights += weight
    return float(np.sqrt(total / weights))


def _posterior(fit: ModelFit, left: FloatArray) -> tuple[float, float]:
    """Mean square of an effect's size, and its Bayes factor, from what of its column no parameter can take up."""
    r, power = fit.fit.residuals, float(left @ left)
    rest = r - left * (float(left @ r) / power)
    variance = max(float(rest @ rest) / max(fit.fit.dof - 1, 1), 1e-14 * fit.window.swing**2)
    variance *= integrated_correlation(rest)
    precision = power / variance + 1 / EFFECT**2
    mean = float(left @ r) / variance / precision
    log_weight = 0.5 * mean**2 * precision - 0.5 * np.log(EFFECT**2 * precision) + np.log(ODDS)
    return mean**2 + 1 / precision, float(np.exp(min(log_weight, HIGHEST_LOG_WEIGHT)))


def _effects(fit: ModelFit) -> list[tuple[FloatArray, bool]]:
    """Columns in the output's unit for effects of the whole swing at their largest, and which are the circuit's own."""
    t, first, last = fit.window.t_s, *fit.levels
    way = (fit.fit.fitted - fit.besides - first) / ((last - first) or 1.0)
    pace = np.gradient(way, t)
    found = [(-pace, True), (np.gradient(pace, t), True)]
    found += [(way * (1 - way), False), ((t - t[0]) / (t[-1] - t[0]), False)]
    if fit.poles_s:
        ready = DrivenInstants(Stimulus(t_s=t, u=way), t)
        found.append((ready.pole(TAIL * fit.main_pole_s, twice=False).once[0] - way, True))
    if fit.window.stimulus is not None and not fit.spec.weak:
        found += _of_drive(fit, fit.window.stimulus.u, way)
    sizes = [float(np.max(np.abs(column))) for column, _ in found]
    return [(column * (fit.window.swing / size), own) for (column, own), size in zip(found, sizes, strict=True) if size]


def _of_drive(fit: ModelFit, u: FloatArray, way: FloatArray) -> list[tuple[FloatArray, bool]]:
    """A part of the drive at once; where it was recorded, its slope, and what a curve in its channel would change."""
    n, ready = fit.spec.n_shape, fit.window.instants
    drive = ready.itself(fit.dead_s)[0][0]
    found = [(drive - way, True)] if n else []
    if fit.window.driven:
        bent = (u * (1 - u))[None, :]
        answer = shape_response(ready, fit.spec.shape, fit.fit.theta[:n], fit.dead_s, bent, slopes=False)
        found += [(np.gradient(drive, fit.window.t_s), True), (answer.once[0], True)]
    return found
