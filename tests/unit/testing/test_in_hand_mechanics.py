"""The second world's sticks obey their own physics."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from feelcheck.testing.in_hand.aim import Aim
from feelcheck.testing.in_hand.mechanics import STEP_S, Wall, stick_path
from feelcheck.testing.in_hand.world import Gate, HandWorld, Stick

STEPS = 8000
T_S = np.arange(STEPS) * STEP_S


@cache
def pushed(world: HandWorld, angle_deg: float, *, turn_deg: float = 0.0, off_s: float = 9.0) -> np.ndarray:
    """Return the path of one stick pushed to 1.3 in 60 ms, its aim then turned, let go at `off_s`."""
    radius = 1.3 * np.clip(T_S / 0.06, 0.0, 1.0)
    angle = np.deg2rad(angle_deg + turn_deg * np.clip((T_S - 0.2) / 0.02, 0.0, 1.0))
    aim = Aim(
        x=(radius * np.cos(angle))[:, None],
        y=(radius * np.sin(angle))[:, None],
        grip=(off_s > T_S).astype(float)[:, None],
    )
    x, y = stick_path(world, aim, np.random.default_rng(1))
    return x + 1j * y


def test_a_hard_round_rim_stops_the_stick_within_a_third_of_a_percent() -> None:
    radius = np.abs(pushed(HandWorld(), 30.0))
    contact = int(np.argmax(radius >= 1.0))
    assert radius.max() < 1.0035
    assert np.all(np.abs(radius[contact + 40 : 4000] - radius[3999]) < 2e-3)


def test_the_force_of_holding_presses_the_rim_by_force_over_stiffness() -> None:
    world = HandWorld(gate=Gate(stiffness_hz=400.0, damping=0.7))
    deep = abs(pushed(world, 45.0)[-1]) - 1.0
    force = (60.0**2) * (1.3 - 1.0 - deep) - 18.0**2 * (1.0 + deep)
    assert deep == pytest.approx(force / 400.0**2, rel=1e-3)


def test_a_rim_that_yields_goes_on_with_its_own_time() -> None:
    hard, soft = HandWorld(), HandWorld(gate=Gate(creep=0.005, creep_s=0.012))
    give = np.abs(pushed(soft, 45.0)) - np.abs(pushed(hard, 45.0))
    contact = int(np.argmax(np.abs(pushed(hard, 45.0)) >= 1.0))
    last = give[-1]
    assert last == pytest.approx(0.005, rel=0.15)
    later = give[contact + 200 :]
    fitted_s = STEP_S * np.sum(last - later) / (last - later[0])
    assert fitted_s == pytest.approx(0.012, rel=0.2)


def test_friction_holds_a_small_turn_and_lets_a_larger_one_slide() -> None:
    rough = HandWorld(gate=Gate(friction=0.4))
    smooth = HandWorld(gate=Gate(friction=0.0))
    for world, moved in ((rough, False), (smooth, True)):
        path = pushed(world, 20.0, turn_deg=2.0)
        turned = np.rad2deg(np.angle(path[-1] / path[3900]))
        assert bool(turned > 1.0) is moved
    assert np.rad2deg(np.angle(pushed(rough, 20.0, turn_deg=30.0)[-1])) > 30.0


def test_let_go_the_stick_rings_at_its_springs_frequency() -> None:
    world = HandWorld(stick=Stick(spring_hz=30.0, damping=0.1))
    path = pushed(world, 0.0, off_s=0.3).real
    after = path[int(0.3 / STEP_S) :]
    down = np.flatnonzero((after[1:] < 0.0) & (after[:-1] >= 0.0))
    period_s = STEP_S * (down[1] - down[0])
    assert 1.0 / period_s == pytest.approx(30.0 * np.sqrt(1.0 - 0.1**2), rel=0.01)


@pytest.mark.parametrize(
    ("gate", "angle_deg", "expected"),
    [
        (Gate(shape="octagon"), 0.0, 1.0),
        (Gate(shape="octagon"), 22.5, np.cos(np.pi / 8)),
        (Gate(shape="square"), 0.0, 1.0),
        (Gate(shape="square"), 45.0, np.sqrt(2.0)),
        (Gate(notch_depth=0.01), 45.0, 1.01),
        (Gate(notch_depth=0.01), 22.5, 1.0),
    ],
)
def test_gates_have_their_shapes(gate: Gate, angle_deg: float, expected: float) -> None:
    place = expected * np.exp(1j * np.deg2rad(np.array([angle_deg])))
    deep, normals = Wall.of(gate).depth(place)
    assert deep.max() == pytest.approx(0.0, abs=1e-4)
    assert np.all(np.abs(normals) == pytest.approx(1.0))
    assert gate.notch_depth > 0.0 or gate.radius(angle_deg) == pytest.approx(expected, abs=1e-4)
    inside, _ = Wall.of(gate).depth(0.99 * place)
    assert inside.max() < -0.008


def test_a_notchs_normal_is_the_slope_of_its_wall() -> None:
    wall = Wall.of(Gate(notch_depth=0.02, notch_width_deg=4.0))
    place, small = 1.005 * np.exp(1j * np.deg2rad(np.array([49.0]))), 1e-6
    deep, normal = wall.depth(place)
    east, north = wall.depth(place + small)[0] - deep, wall.depth(place + 1j * small)[0] - deep
    slope = (east + 1j * north)[0] / small
    assert normal[0][0] == pytest.approx(slope[0] / abs(slope[0]), abs=2e-3)


def test_half_the_step_gives_the_same_path(monkeypatch: pytest.MonkeyPatch) -> None:
    world = HandWorld()
    coarse = pushed(world, 30.0)
    monkeypatch.setattr("feelcheck.testing.in_hand.mechanics.STEP_S", STEP_S / 2)
    fine_t_s = np.arange(2 * STEPS) * STEP_S / 2
    radius = 1.3 * np.clip(fine_t_s / 0.06, 0.0, 1.0)
    way = (radius * np.exp(1j * np.deg2rad(30.0)))[:, None]
    x, y = stick_path(world, Aim(x=way.real, y=way.imag, grip=np.ones_like(way.real)), np.random.default_rng(1))
    assert np.abs((x + 1j * y)[::2] - coarse).max() < 0.004
