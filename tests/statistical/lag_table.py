"""Print how well a marker and a tied stick tell the lag over simulated logs: one row an effect.

Run it as ``python tests/statistical/lag_table.py --logs 20``. Settings were chosen on seeds below 1000; seeds from
50000 on are for figures to quote.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from feelcheck.hand.lag.coupled import coupled_lag
from feelcheck.hand.lag.marker import marker_lag
from feelcheck.hand.view import prepare
from feelcheck.model import Action, Estimate, Recording, Script, Step
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.sources.synthetic import AxisParts, World, quick_script, simulate_recording, world_with
from feelcheck.testing.in_hand.tied import Link, TiedWorld, draw_tied, simulate_tied
from feelcheck.testing.in_hand.world import Gate, HandWorld, Thumb

GOAL_S = {"marker": 0.0003, "coupled": 0.0002, "tied": 0.0002}
BUTTON_DELAY_S = 0.0004
Change = Callable[[World, np.random.Generator], World]
EFFECTS: dict[str, tuple[str, Change]] = {
    "plain": ("plain", lambda world, _: world),
    "quick_thumb": ("plain", lambda world, _: _thumb(world, (0.06, 0.1))),
    "slow_thumb": ("plain", lambda world, _: _thumb(world, (0.2, 0.4))),
    "noise": ("noise", lambda world, _: world),
    "10_bit": ("plain", lambda world, _: _bits(world, 10)),
    "8_bit": ("plain", lambda world, _: _bits(world, 8)),
    "loss": ("loss", lambda world, _: world),
    "stalls": ("stalls", lambda world, _: world),
    "on_change": ("on_change", lambda world, _: world),
    "bounce": ("bounce", lambda world, _: world),
    "compliance": ("compliance", lambda world, _: world),
}
COUPLED_EFFECTS: dict[str, tuple[str, Change]] = {
    "no_play": ("plain", lambda world, _: _play(world, 0.0)),
    "much_play": ("plain", lambda world, _: _play(world, 0.03)),
    "dead_time": ("plain", lambda world, rng: _later(world, float(rng.uniform(0.0005, 0.002)))),
}
TIED_EFFECTS: dict[str, tuple[Link, tuple[float, float]]] = {
    "tied_tightly": ("dragged", (0.0, 0.0)),
    "dragged": ("dragged", (0.005, 0.02)),
    "sprung": ("sprung", (0.005, 0.02)),
    "thrown": ("thrown", (0.005, 0.02)),
}


def _thumb(world: World, flick_s: tuple[float, float]) -> World:
    return replace(world, thumb=replace(world.thumb, flick_s=flick_s))


def _bits(world: World, bits: int) -> World:
    return replace(world, converter=replace(world.converter, bits=bits))


def _play(world: World, play_fs: float) -> World:
    return replace(world, gimbal=replace(world.gimbal, play_fs=play_fs))


def _later(world: World, dead_time_s: float) -> World:
    parts = {name: AxisParts(network=replace(world.network_of(name), dead_time_s=dead_time_s)) for name in world.axes}
    return replace(world, axes=MappingProxyType(parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One estimate against the truth."""

    status: str
    error_s: float = float("nan")
    covered: bool = False


def _tau(rng: np.random.Generator) -> float:
    return float(np.exp(rng.uniform(np.log(0.001), np.log(0.02))))


def coupled_script(rng: np.random.Generator) -> Script:
    """Return quick and slower flicks as in the shipped script, in half the time."""
    quick = quick_script(14, rng)
    corners = np.array([45.0, 225.0, 135.0, 315.0]) + rng.uniform(-8.0, 8.0, 4)
    slow = [
        step
        for corner in corners.tolist()
        for step in (
            Step(action=Action.FLICK, duration_s=1.7, stick="left", direction_deg=round(corner, 1), pace="slow"),
            Step(action=Action.RELEASE, duration_s=0.6, stick="left"),
        )
    ]
    return replace(quick, steps=(*quick.steps[:-1], *slow, quick.steps[-1]))


def marker_log(effect: str, seed: int) -> Recording:
    """Return a simulated log with a button at the rim."""
    rng = np.random.default_rng([seed, 1, sum(map(ord, effect))])
    base, change = EFFECTS[effect]
    style = "events" if rng.random() < 0.5 else "table"
    world = change(world_with(base, rng, tau_s=_tau(rng), style=style), rng)
    world = replace(world, rim_button="rim", rim_button_delay_s=BUTTON_DELAY_S)
    return simulate_recording(world, quick_script(16, rng), rng)


def coupled_log(effect: str, seed: int, *, tied: bool = True) -> Recording:
    """Return a simulated log of two sticks, tied or each with a thumb of its own."""
    rng = np.random.default_rng([seed, 2, sum(map(ord, effect))])
    base, change = {**EFFECTS, **COUPLED_EFFECTS}[effect]
    style = "events" if rng.random() < 0.5 else "table"
    tau_a_s, tau_b_s = _tau(rng), _tau(rng)
    world = world_with(base, rng, tau_s=tau_a_s, style=style)
    second = replace(world.network, poles_s=((tau_b_s, tau_b_s),))
    world = replace(
        world,
        sticks=("left", "right"),
        axes=MappingProxyType({f"right_{axis}": AxisParts(network=second) for axis in "xy"}),
        gimbal=replace(world.gimbal, tied=tied, play_fs=float(rng.uniform(0.0, 0.012))),
    )
    script = coupled_script(rng)
    if not tied:
        both = tuple(replace(step, stick="both") for step in script.steps)
        script = replace(script, steps=both)
    return simulate_recording(change(world, rng), script, rng)


def axis_delay_s(recording: Recording, axis: str, direction: str) -> float:
    """Return the true delay of one axis and direction, s."""
    truth = recording.truth
    return float(truth[f"{axis}.{direction}.smoothing_delay_s"]) + float(truth[f"{axis}.dead_time_s"])


def _against(estimate: Estimate, true_s: float) -> Outcome:
    low, high = coverage_interval(estimate)
    if estimate.value is None or low is None or high is None:
        return Outcome(status=str(estimate.status))
    return Outcome(status="ok", error_s=estimate.value - true_s, covered=low <= true_s <= high)


def judge_marker(effect: str, seed: int) -> list[Outcome]:
    """Measure the delay behind the button, each axis and direction; one outcome without any."""
    recording = marker_log(effect, seed)
    lag, _ = marker_lag(prepare(recording))
    if not lag.directions:
        return [_against(lag.delay, 0.0)]
    return [
        _against(estimate, axis_delay_s(recording, axis, direction) - BUTTON_DELAY_S)
        for (axis, direction), estimate in lag.directions.items()
    ]


def judge_coupled(effect: str, seed: int) -> list[Outcome]:
    """Measure the delay of the second stick, each axis; one outcome without any."""
    recording = coupled_log(effect, seed)
    lag, _ = coupled_lag(prepare(recording))
    if not lag.axes:
        return [_against(lag.delay, 0.0)]
    return [
        _against(
            axis.delay,
            axis_delay_s(recording, axis.second, "rising") - axis_delay_s(recording, axis.first, "rising"),
        )
        for axis in lag.axes.values()
    ]


def tied_log(effect: str, seed: int) -> Recording:
    """Return a log of the second world's tied sticks."""
    rng = np.random.default_rng([seed, 4, sum(map(ord, effect))])
    link, play = TIED_EFFECTS[effect]
    return simulate_tied(draw_tied(link, rng, play=play), rng)


def shaky_log(seed: int) -> Recording:
    """Return a log of 5 and 10 ms with 1 ms of dead time and 2 % of play, dragged by a trembling thumb."""
    pole = ((0.005, 0.005),)
    thumb = Thumb(manners=("quick", "accelerating", "coasting", "slow"), tremor=0.015)
    hand = HandWorld(poles_x_s=pole, poles_y_s=pole, thumb=thumb, gate=Gate(friction=0.05))
    world = TiedWorld(hand=hand, poles_s=((0.010, 0.010),), dead_time_s=0.001, play=0.02)
    return simulate_tied(world, np.random.default_rng(seed))


def judge_tied(effect: str, seed: int) -> list[Outcome]:
    """Measure delay and relative smoothing of the second stick, each axis; one outcome without any."""
    recording = tied_log(effect, seed)
    lag, _ = coupled_lag(prepare(recording))
    if not lag.axes:
        return [_against(lag.delay, 0.0)]
    return [
        _against(estimate, float(recording.truth[f"{letter}.rising.{truth}"]))
        for letter, axis in lag.axes.items()
        for estimate, truth in ((axis.delay, "delay_s"), (axis.smoothing, "smoothing_s"))
    ]


def unrelated_press_log(seed: int) -> Recording:
    """Return a log of flicks in which the right thumb presses a button whenever it likes."""
    rng = np.random.default_rng([seed, 3])
    world = replace(world_with("plain", rng, tau_s=_tau(rng)), sticks=("left", "right"))
    steps = [Step(action=Action.REST, duration_s=1.0, stick="left")]
    for k in range(16):
        press = Step(action=Action.PRESS, duration_s=float(rng.uniform(0.1, 0.9)), stick="right")
        flick = Step(action=Action.FLICK, duration_s=0.8, stick="left", direction_deg=(45.0, 225.0)[k % 2])
        steps += [press, flick, Step(action=Action.RELEASE, duration_s=0.6, stick="left")]
    return simulate_recording(world, Script(name="unrelated", title="", steps=tuple(steps)), rng)


def row(name: str, goal_s: float, outcomes: Iterable[Outcome]) -> str:
    """Return one line of the table."""
    every = list(outcomes)
    ok = [outcome for outcome in every if outcome.status == "ok"]
    others = Counter(outcome.status for outcome in every if outcome.status != "ok")
    cells = [f"{name:<22}", f"{len(every):>4}"]
    if ok:
        errors = np.array([outcome.error_s for outcome in ok]) * 1e3
        cells += [
            f"{np.median(errors):>9.3f}",
            f"{np.percentile(np.abs(errors), 95):>8.3f}",
            f"{100 * np.mean(np.abs(errors) <= 1e3 * goal_s):>6.0f}",
            f"{100 * np.mean([outcome.covered for outcome in ok]):>7.0f}",
        ]
    else:
        cells += [f"{'-':>9}", f"{'-':>8}", f"{'-':>6}", f"{'-':>7}"]
    return " ".join([*cells, f"{len(ok):>4}", " ", ", ".join(f"{n} {status}" for status, n in others.items())])


HEADER = f"{'effect':<22} {'n':>4} {'median ms':>9} {'p95 ms':>8} {'goal%':>6} {'cover%':>7} {'ok':>4}   others"


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=10, help="logs an effect")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--only", choices=tuple(GOAL_S), default=None)
    chosen = parser.parse_args()
    seeds = range(chosen.first_seed, chosen.first_seed + chosen.logs)
    for kind, judge, effects in (
        ("marker", judge_marker, tuple(EFFECTS)),
        ("coupled", judge_coupled, (*EFFECTS, *COUPLED_EFFECTS)),
        ("tied", judge_tied, tuple(TIED_EFFECTS)),
    ):
        if chosen.only not in (None, kind):
            continue
        print(f"{kind}: goal {1e3 * GOAL_S[kind]:g} ms\n{HEADER}", flush=True)
        everything: list[Outcome] = []
        for effect in effects:
            found = [outcome for seed in seeds for outcome in judge(effect, seed)]
            everything += found
            print(row(effect, GOAL_S[kind], found), flush=True)
        print(row("all", GOAL_S[kind], everything), flush=True)
    told = Counter(str(coupled_lag(prepare(coupled_log("plain", s, tied=False)))[0].delay.status) for s in seeds)
    print("two thumbs at once, sticks not tied:", dict(told))
    told = Counter(str(marker_lag(prepare(unrelated_press_log(s)))[0].delay.status) for s in seeds)
    print("a button pressed at any time:", dict(told))


if __name__ == "__main__":
    main()
