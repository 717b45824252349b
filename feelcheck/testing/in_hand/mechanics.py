"""Equations of motion of a stick between a thumb's soft pad, a spring and a gate, integrated in small steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray
from feelcheck.testing.in_hand.aim import Aim
from feelcheck.testing.in_hand.world import Gate, HandWorld

__all__ = ["STEP_S", "Wall", "stick_path"]

STEP_S = 0.00005
Plane = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wall:
    """The sides of a gate in the complex plane: `normals` of straight sides, shape (sides, 1); none for a round one."""

    gate: Gate
    normals: Plane | None
    distance: float

    @classmethod
    def of(cls, gate: Gate) -> Wall:
        """Return the wall of a gate.

        Parameters
        ----------
        gate : Gate
            Its shape.
        """
        if gate.shape == "round":
            return cls(gate=gate, normals=None, distance=1.0)
        octagon = gate.shape == "octagon"
        angles = np.deg2rad(np.arange(8) * 45.0 + 22.5 if octagon else np.arange(4) * 90.0)
        distance = float(np.cos(np.pi / 8)) if octagon else 1.0
        return cls(gate=gate, normals=np.exp(1j * angles)[:, None], distance=distance)

    def depth(self, place: Plane) -> tuple[FloatArray, Plane]:
        """Return how deep places are in each side and the unit normals there, shape (sides, n).

        Parameters
        ----------
        place : ndarray of complex, shape (n,)
            Places of the stick, the gate's radius as the unit.
        """
        if self.normals is not None:
            return np.real(place * np.conj(self.normals)) - self.distance, self.normals
        radius = np.abs(place) + 1e-12
        outward = place / radius
        if self.gate.notch_depth == 0.0:
            return (radius - 1.0)[None], outward[None]
        width = np.deg2rad(self.gate.notch_width_deg)
        off = (np.angle(place) + np.pi / 8) % (np.pi / 4) - np.pi / 8
        pocket = self.gate.notch_depth * np.exp(-0.5 * (off / width) ** 2)
        tilted = 1.0 + 1j * pocket * off / width**2 / radius
        size = np.abs(tilted)
        return ((radius - 1.0 - pocket) / size)[None], (outward * tilted / size)[None]


class _Contact:
    """What the gate does to the sticks that touch it; remembers how far it has yielded."""

    def __init__(self, gate: Gate, n: int, creep_per_force: float) -> None:
        self.gate, self.wall = gate, Wall.of(gate)
        self.yielded = np.zeros(n)
        self.creep_per_force = creep_per_force
        omega = 2 * np.pi * gate.stiffness_hz
        self.stiff, self.damp = omega * omega, 2 * gate.damping * omega

    def push(self, place: Plane, speed: Plane) -> tuple[FloatArray, Plane]:
        """Return the normal force and its vector, and let the wall yield."""
        deep, normals = self.wall.depth(place)
        deep = deep - self.yielded
        force = np.maximum(self.stiff * deep + self.damp * np.real(speed * np.conj(normals)), 0.0) * (deep > 0.0)
        vector = (force * normals).sum(axis=0)
        size: FloatArray = force.sum(axis=0)
        if self.creep_per_force:
            self.yielded += STEP_S / self.gate.creep_s * (self.creep_per_force * size - self.yielded)
        return size, vector

    def rub(self, speed: Plane, size: FloatArray, vector: Plane) -> Plane:
        """Return velocities less friction's impulse along the wall, which never does more than stop them."""
        gate = self.gate
        tangent = 1j * vector / (np.abs(vector) + 1e-12)
        along = np.real(speed * np.conj(tangent))
        rate = np.abs(along)
        factor = gate.friction * (1.0 + gate.stribeck * np.exp(-rate / 0.3)) if gate.stribeck else gate.friction
        impulse = (factor * size + gate.viscous_per_s * rate * (size > 0.0)) * STEP_S
        return np.asarray(speed - tangent * np.copysign(np.minimum(impulse, rate), along))


def _centres(world: HandWorld, n: int, rng: np.random.Generator) -> tuple[Plane, Plane]:
    """Return where the spring's centre is before and after each gesture, two arrays of shape (n,)."""
    east, north = world.stick.return_sd * rng.standard_normal((2, n))
    after = np.asarray(east + 1j * north, dtype=np.complex128)
    return np.concatenate([np.zeros(1, dtype=np.complex128), after[:-1]]), after


def stick_path(world: HandWorld, aim: Aim, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return the stick's path over all gestures of an aim, one after the other.

    Parameters
    ----------
    world : HandWorld
        The simulated pad and person.
    aim : Aim
        Where the thumb wants the stick.
    rng : Generator
        Source of all draws.

    Returns
    -------
    x, y : ndarray, shape (steps * n,), fractions of the rim's radius
        Positions every `STEP_S`.

    Notes
    -----
    Semi-implicit Euler steps of unit mass: pad (spring and damper towards the aim), the stick's own spring, walls that
    only push, Coulomb, Stribeck and viscous friction along them. All gestures are stepped side by side. The spring's
    centre changes while the stick is held away from it, so that gestures join without a jump.
    """
    before, after = _centres(world, aim.grip.shape[1], rng)
    pad, spring = 2 * np.pi * world.thumb.pad_hz, 2 * np.pi * world.stick.spring_hz
    soft, damp = 2 * world.thumb.pad_damping * pad, 2 * world.stick.damping * spring
    held_force = pad * pad * world.thumb.press - spring * spring
    contact = _Contact(world.gate, before.size, world.gate.creep / held_force)
    late = np.cumsum(aim.grip > 0.0, axis=0) > (aim.grip > 0.0).sum(axis=0) // 2
    where = aim.x + 1j * aim.y
    pull = aim.grip * (pad * pad * where + soft * np.gradient(where, STEP_S, axis=0))
    pull += spring * spring * np.where(late, after, before)
    stiff, drag = pad * pad * aim.grip + spring * spring, soft * aim.grip + damp
    place, speed = before.astype(np.complex128), np.zeros(before.size, dtype=np.complex128)
    path = np.empty_like(where)
    for k in range(path.shape[0]):
        size, vector = contact.push(place, speed)
        speed = speed + STEP_S * (pull[k] - stiff[k] * place - drag[k] * speed - vector)
        speed = contact.rub(speed, size, vector)
        place = place + STEP_S * speed
        path[k] = place
    return path.real.T.reshape(-1), path.imag.T.reshape(-1)
