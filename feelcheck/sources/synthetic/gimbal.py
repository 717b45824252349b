"""The gimbal: rim, bounce, slide, give, creep, spring return, friction."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import expm

from feelcheck.model import FloatArray

__all__ = ["STEP_S", "Gimbal", "after_contact", "backlash", "free_return", "rim_radius"]

STEP_S = 50e-6
"""The fine time step of the mechanics and the analogue electronics."""

REFERENCE_SPEED = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gimbal:
    """The mechanics of a stick; lengths are in throws (centre to rim is 1).

    Parameters
    ----------
    n_notches : int
        Notches of the rim; 0 is a round rim.
    notch_depth_fs : float
        How much nearer the rim is midway between two notches.
    bounce_fs, bounce_s : float
        Height and duration of the first rebound at a contact speed of 20 throws/s and above; height falls with the
        square of slower speeds, duration with the speed.
    restitution : float
        Ratio of the durations of successive rebounds.
    slide_deg, slide_s : float
        Standard deviation of the angle slid along the rim after contact, and how long it takes.
    compliance_fs : float
        How far the rim gives under full force.
    force_rise_s : tuple of float, s
        Shortest and longest rise of the thumb's force after contact.
    creep_fs, creep_s : float
        Slow further give and its time constant.
    natural_hz, damping : float
        Undamped natural frequency and damping ratio of the free return.
    friction_fs : float
        Coulomb friction of each pivot as the displacement at which the spring just overcomes it.
    coupling_fraction : float
        How much of each axis' deflection shows on the other.
    tied, play_fs : bool, float
        Whether the other sticks are tied to the first one, and the total play of the linkage.
    """

    n_notches: int = 0
    notch_depth_fs: float = 0.06
    bounce_fs: float = 0.004
    bounce_s: float = 0.006
    restitution: float = 0.4
    slide_deg: float = 0.0
    slide_s: float = 0.02
    compliance_fs: float = 0.0
    force_rise_s: tuple[float, float] = (0.005, 0.05)
    creep_fs: float = 0.0
    creep_s: float = 0.3
    natural_hz: float = 45.0
    damping: float = 0.25
    friction_fs: float = 0.0
    coupling_fraction: float = 0.0
    tied: bool = False
    play_fs: float = 0.0


def rim_radius(gimbal: Gimbal, angle_rad: FloatArray) -> FloatArray:
    """Return the distance of the rim from the centre at each angle, in throws.

    Parameters
    ----------
    gimbal : Gimbal
        The gate.
    angle_rad : ndarray, shape (n,)
        Angles round the centre, rad.
    """
    if gimbal.n_notches == 0:
        return np.ones_like(angle_rad)
    between = np.abs(np.sin(0.5 * gimbal.n_notches * angle_rad))
    return np.asarray(1.0 - gimbal.notch_depth_fs * between, dtype=np.float64)


def after_contact(
    gimbal: Gimbal, since_s: FloatArray, angle_rad: float, speed: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return radius (throws) and angle (rad) of a stick driven into the rim, at times since contact.

    Parameters
    ----------
    gimbal : Gimbal
        The mechanics.
    since_s : ndarray, shape (n,), s
        Times since contact.
    angle_rad, speed : float
        Where and how fast (throws/s, radially) it met the rim.
    rng : Generator
        Draws the slide, the force and its rise.
    """
    slid = _braked(since_s / gimbal.slide_s, rng.uniform(1.5, 3.0))
    angle = angle_rad + _slide_rad(gimbal, angle_rad, rng) * slid
    rise = np.clip(since_s / rng.uniform(*gimbal.force_rise_s), 0.0, 1.0)
    give = gimbal.compliance_fs * rng.uniform(0.6, 1.0) * 0.5 * (1.0 - np.cos(math.pi * rise))
    give = give + gimbal.creep_fs * rng.uniform(0.5, 1.0) * (1.0 - np.exp(-since_s / gimbal.creep_s))
    return rim_radius(gimbal, angle) * (1.0 + give) - _rebounds(gimbal, since_s, speed), angle


def _braked(u: FloatArray, power: float) -> FloatArray:
    """Return the path of a body that comes to rest at u = 1: dry friction is power 2, more is more like viscous."""
    return np.asarray(1.0 - (1.0 - np.clip(u, 0.0, 1.0)) ** power, dtype=np.float64)


def _slide_rad(gimbal: Gimbal, angle_rad: float, rng: np.random.Generator) -> float:
    """Return how far the stick slides; a notched rim leads it towards the nearest notch and no further."""
    slide = math.radians(rng.normal(0.0, gimbal.slide_deg))
    if gimbal.n_notches == 0:
        return slide
    pitch = 2.0 * math.pi / gimbal.n_notches
    to_notch = round(angle_rad / pitch) * pitch - angle_rad
    return math.copysign(min(abs(slide), abs(to_notch)), to_notch)


def _rebounds(gimbal: Gimbal, since_s: FloatArray, speed: float) -> FloatArray:
    """Return how far the stick has bounced off the rim: successive parabolas, lower and shorter each time."""
    hardness = min(1.0, speed / REFERENCE_SPEED)
    height, duration_s, start_s = gimbal.bounce_fs * hardness**2, gimbal.bounce_s * hardness, 0.0
    lifted = np.zeros_like(since_s)
    while height > 1e-6 and duration_s > 2.0 * STEP_S:
        first, last = np.searchsorted(since_s, (start_s, start_s + duration_s))
        u = (since_s[first:last] - start_s) / duration_s
        lifted[first:last] = 4.0 * height * u * (1.0 - u)
        start_s += duration_s
        height, duration_s = height * gimbal.restitution**2, duration_s * gimbal.restitution
    return lifted


def free_return(gimbal: Gimbal, start: float, n: int) -> FloatArray:
    """Return one axis let go at `start`, at rest, on n fine time steps, in throws, shape (n,).

    Parameters
    ----------
    gimbal : Gimbal
        Spring, friction and mass of the stick.
    start : float
        Deflection at the beginning, in throws.
    n : int
        How many time steps.

    Notes
    -----
    Mass, spring and viscous damper stepped with their exact transition matrix; Coulomb friction is a constant force
    against the velocity during each step and holds the stick where the spring no longer overcomes it.
    """
    if abs(start) <= gimbal.friction_fs:
        return np.full(n, start)
    omega = 2.0 * math.pi * gimbal.natural_hz
    system = np.array([[0.0, 1.0, 0.0], [-(omega**2), -2.0 * gimbal.damping * omega, omega**2], [0.0, 0.0, 0.0]])
    step = expm(system * STEP_S)
    (a, b, e), (c, d, f) = step[0].tolist(), step[1].tolist()
    friction, x, v = gimbal.friction_fs, start, 0.0
    path = np.full(n, start)
    for k in range(1, n):
        rubbed = -math.copysign(friction, v if v != 0.0 else -x)
        x_next, v_next = a * x + b * v + e * rubbed, c * x + d * v + f * rubbed
        turned = v_next * v <= 0.0
        if turned and abs(x_next) <= friction:
            path[k:] = x_next
            break
        if abs(x_next) + abs(v_next) / omega < 1e-7:
            path[k:] = 0.0
            break
        x, v = x_next, v_next
        path[k] = x
    return path


def backlash(motion: FloatArray, play_fs: float) -> FloatArray:
    """Return a follower that is dragged along with a total play of play_fs, shape (n,).

    Parameters
    ----------
    motion : ndarray, shape (n,)
        The leader's path, throws.
    play_fs : float
        Total play, throws.
    """
    half = 0.5 * play_fs
    followed = np.empty_like(motion)
    y = float(motion[0])
    for k, x in enumerate(motion.tolist()):
        y = min(max(y, x - half), x + half)
        followed[k] = y
    return followed
