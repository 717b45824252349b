"""Named effects and worlds drawn from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from feelcheck.testing.in_hand.world import Firmware, Gate, HandWorld, Host, Link, Sensor, Stage

__all__ = ["EFFECTS", "FALSE_OPTIMA", "MIXED", "draw_world"]

Effect = Callable[[HandWorld, np.random.Generator], HandWorld]
MIXED = 4
TAU_S = (0.001, 0.04)


def _thumb(**changes: Any) -> Effect:
    return lambda world, _: replace(world, thumb=replace(world.thumb, **changes))


def _gate(**changes: Any) -> Effect:
    return lambda world, _: replace(world, gate=replace(world.gate, **changes))


def _poles(world: HandWorld, *poles: tuple[float, float]) -> HandWorld:
    return replace(world, poles_x_s=poles, poles_y_s=poles)


def _firmware(world: HandWorld, **changes: Any) -> HandWorld:
    return replace(world, firmware=replace(world.firmware, **changes))


def _slide(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    law = rng.choice(["exponential", "linear", "cosine"])
    gate = replace(world.gate, friction=float(rng.uniform(0.02, 0.25)), viscous_per_s=float(rng.choice([0.0, 30.0])))
    gate = replace(gate, stribeck=float(rng.choice([0.0, 1.0])))
    thumb = replace(world.thumb, slide_deg=(1.5, 6.0), slide_law=str(law))  # type: ignore[arg-type]
    return replace(world, thumb=thumb, gate=gate)


def _tremor(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    thumb = replace(world.thumb, tremor=float(rng.uniform(0.01, 0.03)), tremor_hz=float(rng.uniform(8.0, 12.0)))
    return replace(world, thumb=thumb, gate=replace(world.gate, friction=0.05))


def _rim_gives(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    give = float(rng.uniform(0.002, 0.006))
    return replace(world, gate=replace(world.gate, creep=give, creep_s=float(rng.uniform(0.006, 0.02))))


def _rim_rings(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    ringing = Gate(stiffness_hz=float(rng.uniform(250.0, 500.0)), damping=float(rng.uniform(0.15, 0.4)))
    return replace(world, gate=ringing)


def _notches(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    depth, width = float(rng.uniform(0.005, 0.015)), float(rng.uniform(3.0, 6.0))
    return replace(world, gate=replace(world.gate, notch_depth=depth, notch_width_deg=width, friction=0.1))


def _sensor(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    square, cube, cross = rng.uniform(-0.04, 0.04), rng.uniform(-0.06, 0.06), rng.uniform(-0.04, 0.04)
    return replace(world, sensor=Sensor(square=float(square), cube=float(cube), cross=float(cross)))


def _recursive(rng: np.random.Generator) -> Stage:
    return Stage(
        kind="recursive",
        order=int(rng.integers(1, 5)),
        fraction_bits=int(rng.choice([0, 4, 8])),
        towards_zero=bool(rng.random() < 0.5),
    )


def _boxcar(rng: np.random.Generator) -> Stage:
    return Stage(kind="boxcar", order=int(rng.choice([4, 8, 16, 24])))


def _only(stage: Callable[[np.random.Generator], Stage]) -> Effect:
    return lambda world, rng: _firmware(_poles(world), stages=(stage(rng),))


def _behind_pole(stage: Callable[[np.random.Generator], Stage]) -> Effect:
    return lambda world, rng: _firmware(_poles(world, _both(float(rng.uniform(0.001, 0.01)))), stages=(stage(rng),))


def _both(tau_s: float) -> tuple[float, float]:
    return (tau_s, tau_s)


def _two_poles(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    slow = world.poles_x_s[0][0]
    return _poles(world, _both(slow), _both(slow * float(rng.uniform(0.2, 0.8))))


def _apart(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    tau_s, ratio = world.poles_x_s[0][0], float(np.exp(rng.uniform(np.log(0.5), np.log(2.5))))
    return _poles(world, (tau_s, tau_s * ratio))


def _axes_apart(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    return replace(world, poles_y_s=(_both(world.poles_x_s[0][0] * float(rng.uniform(0.5, 2.0))),))


def _apart_filtered(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    stage = _recursive(rng) if rng.random() < 0.5 else _boxcar(rng)
    return _firmware(_apart(_poles(world, _both(float(rng.uniform(0.002, 0.01)))), rng), stages=(stage,))


def _radio(report_s: float) -> Effect:
    def change(world: HandWorld, rng: np.random.Generator) -> HandWorld:
        link = Link(report_s=report_s, clock_error=float(rng.normal(0.0, 1e-4)), retry_chance=0.08, loss_chance=0.004)
        return _poles(replace(world, link=link), _both(report_s * float(np.exp(rng.uniform(0.0, np.log(8.0))))))

    return change


def _poller(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    report_s = float(rng.choice([0.001, 0.004]))
    host = Host(style="poller", poll_s=float(rng.choice([0.0005, 0.001])) * float(rng.uniform(0.97, 1.07)))
    return replace(world, link=replace(world.link, report_s=report_s), host=host)


def _8_bit(world: HandWorld, _: np.random.Generator) -> HandWorld:
    return _firmware(world, bits=8, noise_codes=0.2, out_bits=8)


def _outer_clamp(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    return _firmware(world, gain=float(rng.uniform(1.03, 1.2)), circle_clamp=bool(rng.random() < 0.4))


def _apart_9_14(world: HandWorld, _: np.random.Generator) -> HandWorld:
    return _poles(world, (0.009, 0.014))


def _eight_7_75(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    world = replace(_slide(world, rng), directions="eight")
    return replace(world, poles_x_s=(_both(0.007),), poles_y_s=(_both(0.0075),))


def _250_hz_10(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    return _poles(_radio(0.004)(world, rng), _both(0.010))


def _everything(world: HandWorld, rng: np.random.Generator) -> HandWorld:
    names = [name for name in EFFECTS if name not in ("everything", "free_play", *FALSE_OPTIMA)]
    for name in rng.choice(names, MIXED, replace=False).tolist():
        world = EFFECTS[name](world, rng)
    return world


FALSE_OPTIMA: Mapping[str, Effect] = MappingProxyType(
    {"apart_9_14_ms": _apart_9_14, "eight_7_7.5_ms": _eight_7_75, "250_hz_10_ms": _250_hz_10}
)
EFFECTS: Mapping[str, Effect] = MappingProxyType(
    {
        "plain": lambda world, _: world,
        "accelerating": _thumb(manners=("accelerating",)),
        "coasting": _thumb(manners=("coasting",)),
        "hesitating": _thumb(manners=("hesitating",)),
        "slow": _thumb(manners=("slow",)),
        "mixed_manners": _thumb(manners=("quick", "accelerating", "coasting", "hesitating", "slow")),
        "slide": _slide,
        "tremor": _tremor,
        "presses_harder": _thumb(press_growth_per_s=0.5),
        "relaxes": lambda world, rng: _thumb(press_growth_per_s=-float(rng.uniform(0.2, 1.0)))(world, rng),
        "rim_gives": _rim_gives,
        "rim_rings": _rim_rings,
        "octagon": _gate(shape="octagon"),
        "square": _gate(shape="square"),
        "notches": _notches,
        "sensor": _sensor,
        "scan": lambda world, rng: _firmware(world, scan_delay_s=float(rng.uniform(0.0001, 0.0009))),
        "integer_filter": _only(_recursive),
        "boxcar": _only(_boxcar),
        "pole_integer_filter": _behind_pole(_recursive),
        "pole_boxcar": _behind_pole(_boxcar),
        "two_poles": _two_poles,
        "rise_fall_apart": _apart,
        "axes_apart": _axes_apart,
        "apart_filtered": _apart_filtered,
        "outer_clamp": _outer_clamp,
        "noise": lambda world, rng: _firmware(world, noise_codes=float(rng.uniform(2.0, 6.0))),
        "8_bit": _8_bit,
        "radio_250_hz": _radio(0.004),
        "radio_125_hz": _radio(0.008),
        "on_change": lambda world, _: replace(world, host=Host(style="changes")),
        "stalls": lambda world, _: replace(world, host=replace(world.host, stall_chance=1.0)),
        "poller": _poller,
        "eight_directions": lambda world, _: replace(world, directions="eight"),
        "random_directions": lambda world, _: replace(world, directions="random"),
        "free_play": lambda world, _: replace(world, free_play=True),
        "everything": _everything,
        **FALSE_OPTIMA,
    }
)


def draw_world(effect: str, rng: np.random.Generator) -> HandWorld:
    """Return a world with one named effect; everything else about it is drawn too.

    Parameters
    ----------
    effect : str
        Name of the effect.
    rng : Generator
        Source of all draws.

    Raises
    ------
    KeyError
        If there is no such effect.
    """
    tau_s = float(np.exp(rng.uniform(np.log(TAU_S[0]), np.log(TAU_S[1]))))
    world = HandWorld(firmware=Firmware(used=float(rng.uniform(0.6, 0.95)), gain=float(rng.uniform(0.88, 0.98))))
    world = _poles(world, _both(tau_s))
    shorter = float(rng.uniform(0.04, 0.07))
    thumb = replace(world.thumb, push_s=(shorter, 1.8 * shorter), press=float(rng.uniform(0.15, 0.4)))
    stick = replace(world.stick, spring_hz=float(rng.uniform(12.0, 25.0)), damping=float(rng.uniform(0.15, 0.5)))
    stick = replace(stick, return_sd=float(rng.uniform(0.0, 0.008)))
    link = replace(world.link, clock_error=float(rng.normal(0.0, 2e-4)))
    return EFFECTS[effect](replace(world, thumb=thumb, stick=stick, link=link), rng)
