"""Two sticks tied by a linkage with play, each with electronics of its own."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from feelcheck.model import AxisScale, FloatArray, Provenance, Recording, Stream, TimeBase
from feelcheck.testing.in_hand.aim import flick_aims
from feelcheck.testing.in_hand.log import converted
from feelcheck.testing.in_hand.mechanics import STEP_S, Plane, stick_path
from feelcheck.testing.in_hand.reports import logged_rows
from feelcheck.testing.in_hand.world import Gate, HandWorld, Span, Thumb

__all__ = ["TiedWorld", "draw_tied", "follower", "simulate_tied", "slack_path"]

Link = Literal["dragged", "sprung", "thrown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TiedWorld:
    """Two tied sticks; the thumb is on the first.

    Parameters
    ----------
    hand : HandWorld
        The thumb, the first stick with its poles, the firmware of both and the host.
    poles_s : tuple of (rising, falling), s
        Poles of both axes of the second stick.
    dead_time_s : float, s
        How much later the second stick is converted.
    gain : float
        Travel of the second stick over that of the first.
    play : float
        Diameter of the clearance as a fraction of the rim's radius.
    link : {"dragged", "sprung", "thrown"}
        What the second stick does inside the clearance: it stays where friction leaves it, its spring keeps it on the
        inner side, or it flies on and bounces between the sides.
    """

    hand: HandWorld = field(default_factory=HandWorld)
    poles_s: tuple[Span, ...] = ()
    dead_time_s: float = 0.0
    gain: float = 1.0
    play: float = 0.0
    link: Link = "dragged"

    def delay_s(self, axis: str, direction: str) -> float:
        """Return how much later the second stick is than the first, s.

        Parameters
        ----------
        axis : {"x", "y"}
            The axis.
        direction : {"rising", "falling"}
            Which way its code goes.
        """
        return self.dead_time_s + self.smoothing_s(axis, direction)

    def smoothing_s(self, axis: str, direction: str) -> float:
        """Return how much more the second stick's electronics smooth, s.

        Parameters
        ----------
        axis : {"x", "y"}
            The axis.
        direction : {"rising", "falling"}
            Which way its code goes.
        """
        own = sum(pair[direction == "falling"] for pair in self.poles_s)
        return own - sum(self.hand.poles_s(axis, direction))


def slack_path(path: Plane, play: float) -> Plane:
    """Return what is dragged along by a pin in a hole of diameter `play`, shape (steps, n); it stays when it is let be.

    Parameters
    ----------
    path : Plane
        The stick's path, shape (steps, n), in throws.
    play : float
        Diameter of the play, in throws.

    Examples
    --------
    >>> slack_path(np.array([[0.0], [1.0], [0.9]], dtype=complex), 0.2).real.ravel().tolist()
    [0.0, 0.9, 0.9]
    """
    place, half = path[0].copy(), 0.5 * play
    out = np.empty_like(path)
    for k, pin in enumerate(path):
        off = pin - place
        place = place + off * np.maximum(0.0, 1.0 - half / np.maximum(np.abs(off), 1e-12))
        out[k] = place
    return out


def _sprung(path: Plane, play: float) -> Plane:
    return np.asarray(path * np.maximum(0.0, 1.0 - 0.5 * play / np.maximum(np.abs(path), 1e-12)))


def _thrown(path: Plane, world: TiedWorld) -> Plane:
    """Semi-implicit Euler: a sprung mass in a hole whose walls push back like stiff damped springs."""
    spring, stiff = 2 * np.pi * world.hand.stick.spring_hz, 2 * np.pi * 900.0
    speed, place = np.zeros_like(path[0]), path[0].copy()
    pins = np.gradient(path, STEP_S, axis=0)
    out = np.empty_like(path)
    for k, pin in enumerate(path):
        out[k] = place
        off = pin - place
        far = np.abs(off) + 1e-12
        normal = off / far
        closing = np.real((pins[k] - speed) * np.conj(normal))
        force = np.maximum(stiff**2 * (far - 0.5 * world.play) + 0.8 * stiff * closing, 0.0) * (far > 0.5 * world.play)
        speed = speed + STEP_S * (force * normal - spring**2 * place - 2 * 0.3 * spring * speed)
        place = place + STEP_S * speed
    return out


def follower(path: Plane, world: TiedWorld) -> Plane:
    """Return the second stick's path for the first one's, shape (steps, n).

    Parameters
    ----------
    path : Plane
        The stick's path, shape (steps, n), in throws.
    world : TiedWorld
        The simulated pad and person.
    """
    if world.link == "thrown":
        return _thrown(path, world)
    return slack_path(path, world.play) if world.link == "dragged" else _sprung(path, world.play)


def _truth(world: TiedWorld) -> dict[str, float]:
    truth = {}
    for axis in "xy":
        for direction in ("rising", "falling"):
            truth[f"{axis}.{direction}.delay_s"] = world.delay_s(axis, direction)
            truth[f"{axis}.{direction}.smoothing_s"] = world.smoothing_s(axis, direction)
    return truth


def simulate_tied(world: TiedWorld, rng: np.random.Generator) -> Recording:
    """Return a recording of both sticks; its truth holds ``"x.rising.delay_s"``, ``"x.rising.smoothing_s"``, ...

    Parameters
    ----------
    world : TiedWorld
        Linkage and electronics.
    rng : numpy.random.Generator
        Where all chance comes from.
    """
    hand = world.hand
    aim = flick_aims(hand, STEP_S, rng)
    n = aim.x.shape[1]
    x, y = stick_path(hand, aim, rng)
    path = (x + 1j * y).reshape(n, -1).T
    second = world.gain * follower(path, world).T.reshape(-1)
    begin_s = float(rng.uniform(0.0, hand.firmware.update_s))
    updates_s, left = converted(hand, x, y, begin_s, rng)
    other = replace(hand, poles_x_s=world.poles_s, poles_y_s=world.poles_s)
    _, right = converted(other, second.real, second.imag, begin_s, rng, late_s=-world.dead_time_s)
    codes = np.concatenate([left, right], axis=1)
    stamps_s, rows = logged_rows(updates_s + 0.0001, codes, hand.host, rng)
    return _recorded(stamps_s, codes[rows], _truth(world))


def _recorded(stamps_s: FloatArray, codes: np.ndarray, truth: dict[str, float]) -> Recording:
    time = TimeBase.from_instants(np.rint(stamps_s * 1e6) / 1e6)
    names = ("left_x", "left_y", "right_x", "right_y")
    streams = tuple(Stream(name=name, time=time, codes=codes[:, k], scale=AxisScale()) for k, name in enumerate(names))
    return Recording(
        streams=streams,
        provenance=Provenance(format="simulated", simulated=True),
        truth=MappingProxyType(truth),
    )


def draw_tied(link: Link, rng: np.random.Generator, *, play: Span = (0.005, 0.02)) -> TiedWorld:
    """Return tied sticks of which all is drawn but the kind of link and the range of its play.

    Parameters
    ----------
    link : Link
        How reports, or sticks, are linked.
    rng : Generator
        Source of all draws.
    play : Span
        The range that the play is drawn from.
    """
    first_s, second_s = np.exp(rng.uniform(np.log(0.001), np.log(0.012), 2)).tolist()
    thumb = Thumb(manners=("quick", "accelerating", "coasting", "slow"), press=float(rng.uniform(0.15, 0.35)))
    thumb = replace(thumb, slide_deg=(0.0, float(rng.choice([0.0, 4.0]))), tremor=float(rng.choice([0.0, 0.01])))
    gate = Gate(friction=float(rng.uniform(0.02, 0.2)), creep=float(rng.choice([0.0, 0.004])))
    hand = HandWorld(
        poles_x_s=((first_s, first_s),),
        poles_y_s=((first_s, first_s),),
        directions=("four", "eight", "random")[int(rng.integers(3))],
        thumb=thumb,
        gate=gate,
    )
    return TiedWorld(
        hand=hand,
        poles_s=((second_s, second_s),),
        dead_time_s=float(rng.choice([0.0, 0.0005])),
        gain=float(rng.uniform(0.95, 1.05)),
        play=float(rng.uniform(*play)),
        link=link,
    )
