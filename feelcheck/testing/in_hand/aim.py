"""Where the thumb wants the stick: paths of the aim, drawn before any mechanics."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from feelcheck.model import FloatArray
from feelcheck.testing.in_hand.world import HandWorld, Manner, Thumb

__all__ = ["Aim", "flick_aims", "free_aims"]

DIRECTIONS_DEG = {"four": (45.0, 135.0, 225.0, 315.0), "eight": tuple(45.0 * k for k in range(8))}
SETTLE_S = 0.45


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aim:
    """Paths of `n` gestures that all begin and end at rest in the centre.

    Parameters
    ----------
    x, y : ndarray, shape (steps, n), fractions of the rim's radius
        The aim.
    grip : ndarray, shape (steps, n)
        1 while the thumb holds the stick, 0 when it is off.
    """

    x: FloatArray
    y: FloatArray
    grip: FloatArray


def minimum_jerk(u: FloatArray) -> FloatArray:
    """Return the smoothest way from 0 to 1 over ``0 <= u <= 1`` (Flash and Hogan 1985).

    Parameters
    ----------
    u : ndarray, shape (n,)
        Elapsed part of the movement, 0 to 1.
    """
    v = np.clip(u, 0.0, 1.0)
    return np.asarray(v**3 * (10.0 - 15.0 * v + 6.0 * v**2))


def _quick(t_s: FloatArray, push_s: float, press: float, _: np.random.Generator) -> FloatArray:
    return (1.0 + press) * minimum_jerk(t_s / push_s)


def _accelerating(t_s: FloatArray, push_s: float, press: float, rng: np.random.Generator) -> FloatArray:
    power = rng.uniform(1.7, 3.0)
    return np.minimum(np.clip(t_s / push_s, 0.0, None) ** power, 1.0 + press)


def _coasting(t_s: FloatArray, push_s: float, press: float, rng: np.random.Generator) -> FloatArray:
    left = rng.uniform(0.35, 0.7)
    u = np.clip(t_s / push_s, 0.0, 1.0)
    way = PchipInterpolator([0.0, 0.35, 0.8, 1.0], [0.0, 1.0, left, left]).antiderivative()
    pressed = press * -np.expm1(-np.clip(t_s - push_s, 0.0, None) / rng.uniform(0.015, 0.06))
    return np.asarray(way(u) / way(1.0) + pressed)


def _hesitating(t_s: FloatArray, push_s: float, press: float, rng: np.random.Generator) -> FloatArray:
    short_of, wait_s = rng.uniform(0.55, 0.9), rng.uniform(0.015, 0.06)
    first = short_of * minimum_jerk(t_s / (0.6 * push_s))
    then = (1.0 + press - short_of) * minimum_jerk((t_s - 0.6 * push_s - wait_s) / (0.7 * push_s))
    return first + then


WAYS: dict[Manner, Callable[[FloatArray, float, float, np.random.Generator], FloatArray]] = {
    "quick": _quick,
    "slow": _quick,
    "accelerating": _accelerating,
    "coasting": _coasting,
    "hesitating": _hesitating,
}


def _turn(t_s: FloatArray, law: str, duration_s: float) -> FloatArray:
    after_s = np.clip(t_s, 0.0, None)
    if law == "exponential":
        return np.asarray(-np.expm1(-after_s / duration_s))
    u = np.clip(after_s / (2.0 * duration_s), 0.0, 1.0)
    return np.asarray(u if law == "linear" else 0.5 - 0.5 * np.cos(np.pi * u))


def _directions_deg(world: HandWorld, rng: np.random.Generator) -> FloatArray:
    if world.directions == "random":
        return rng.uniform(0.0, 360.0, world.n_flicks)
    named = DIRECTIONS_DEG[world.directions]
    order = np.array([named[k % len(named)] for k in range(world.n_flicks)])
    return order + rng.normal(0.0, world.thumb.aim_sd_deg, world.n_flicks)


def _tremble(t_s: FloatArray, thumb: Thumb, rng: np.random.Generator) -> FloatArray:
    hz = thumb.tremor_hz * (1.0 + 0.05 * rng.standard_normal())
    swell = 1.0 + 0.4 * np.sin(2 * np.pi * 0.9 * t_s + rng.uniform(0, 6.3))
    return np.asarray(thumb.tremor * swell * np.sin(2 * np.pi * hz * t_s + rng.uniform(0, 6.3)))


def _one_flick(
    t_s: FloatArray, world: HandWorld, direction_deg: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    thumb = world.thumb
    manner = thumb.manners[int(rng.integers(len(thumb.manners)))]
    push_s = float(rng.uniform(*(thumb.slow_push_s if manner == "slow" else thumb.push_s)))
    after_s = t_s - rng.uniform(0.1, 0.3)
    radius = WAYS[manner](after_s, push_s, thumb.press * rng.uniform(0.8, 1.2), rng)
    reached_s = float(after_s[int(np.argmax(radius >= 1.0))])
    radius = radius + thumb.press_growth_per_s * np.clip(after_s - reached_s, 0.0, None)
    turn_deg = rng.uniform(*thumb.slide_deg) * rng.choice([-1.0, 1.0])
    angle = direction_deg + turn_deg * _turn(after_s - reached_s, thumb.slide_law, rng.uniform(*thumb.slide_s))
    off_s = reached_s + rng.uniform(*thumb.hold_s)
    grip = np.clip(1.0 - (after_s - off_s) / thumb.let_go_s, 0.0, 1.0) * (after_s > 0.0)
    along, across = _tremble(t_s, thumb, rng) * (after_s > 0.0), _tremble(t_s, thumb, rng) * (after_s > 0.0)
    cosine, sine = np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))
    outward = world.gate.radius(direction_deg) * radius + along
    return outward * cosine - across * sine, outward * sine + across * cosine, grip


def flick_aims(world: HandWorld, step_s: float, rng: np.random.Generator) -> Aim:
    """Return the aims of all flicks of a log, each from rest to the rim, held, and let go.

    Parameters
    ----------
    world : HandWorld
        The simulated pad and person.
    step_s : float, s
        Time step.
    rng : Generator
        Source of all draws.
    """
    thumb = world.thumb
    longest_s = thumb.slow_push_s[1] if "slow" in thumb.manners else 1.3 * thumb.push_s[1] + 0.06
    t_s = np.arange(0.0, 0.3 + longest_s + thumb.hold_s[1] + SETTLE_S, step_s)
    paths = [_one_flick(t_s, world, direction, rng) for direction in _directions_deg(world, rng)]
    x, y, grip = (np.stack(part, axis=1) for part in zip(*paths, strict=True))
    return Aim(x=x, y=y, grip=grip)


def _one_wander(
    t_s: FloatArray, world: HandWorld, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    x, y, now_s = np.zeros_like(t_s), np.zeros_like(t_s), 0.2
    at = np.zeros(2)
    end_s = float(t_s[-1]) - SETTLE_S
    while now_s < end_s - 0.8:
        radius = rng.uniform(1.1, 1.3) if rng.random() < 0.35 else rng.uniform(0.1, 0.9)
        angle = rng.uniform(0.0, 2 * np.pi)
        to = radius * np.array([np.cos(angle), np.sin(angle)])
        move_s = rng.uniform(0.06, 0.35)
        way = minimum_jerk((t_s - now_s) / move_s)
        x, y, at = x + (to[0] - at[0]) * way, y + (to[1] - at[1]) * way, to
        now_s += move_s + rng.exponential(0.12)
    x, y = x + _tremble(t_s, world.thumb, rng), y + _tremble(t_s, world.thumb, rng)
    return x, y, np.clip((end_s - t_s) / world.thumb.let_go_s, 0.0, 1.0) * (t_s > 0.2)


def free_aims(world: HandWorld, step_s: float, rng: np.random.Generator) -> Aim:
    """Return aims that wander as in free play: into the rim now and then, seldom clean, seldom held.

    Parameters
    ----------
    world : HandWorld
        The simulated pad and person.
    step_s : float, s
        Time step.
    rng : Generator
        Source of all draws.
    """
    t_s = np.arange(0.0, 5.0, step_s)
    paths = [_one_wander(t_s, world, rng) for _ in range(max(1, world.n_flicks // 2))]
    x, y, grip = (np.stack(part, axis=1) for part in zip(*paths, strict=True))
    return Aim(x=x, y=y, grip=grip)
