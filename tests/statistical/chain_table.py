"""Print how often the chain's verdicts are wrong, right or left open on whole simulated specimens.

A specimen is a record of parts, a simulated bench capture and simulated hand sessions, each measured as the commands
do. One link is made wrong on purpose, by a stated share of its margin, or nothing is; a wrong part needs no hand.
Further tables: what the bench alone says of the hand, what the hand alone says of the bench, and how well predicted
tails hold the recorded flicks of pads with one or two poles, rims that bounce, give, slide and creep, noise, lost
reports, 8 to 12 bits and 1 to 4 ms reports. Nothing that is predicted has seen the log it is judged on.

Run it as ``python tests/statistical/chain_table.py --specimens 12 --first-seed 1000``.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import itertools
import math
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy import stats

from feelcheck.bench import measure_repeats
from feelcheck.hand import analyse, prepare
from feelcheck.hand.gate_stop.metric import METRIC as GATE_STOP
from feelcheck.hand.quantization import METRIC as LATTICE
from feelcheck.hand.rest import METRIC as REST
from feelcheck.model import ChainLink, Estimate, HandResult
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.pipeline import new_profile, part_found, read_profile
from feelcheck.pipeline._chain import chain_among
from feelcheck.pipeline._parts import delay_from_parts
from feelcheck.pipeline._prediction import TAILS_EACH, predictions_of
from feelcheck.pipeline._record_edits import note_part
from feelcheck.pipeline._specimens import Specimen
from feelcheck.profiles import bench_record_of, hand_record_of
from feelcheck.sources.synthetic import World, quick_script, simulate_recording, world_with
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.varied import EFFECTS as EFFECT_OF
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

MARGIN_S = 0.001
AXIS = "left_x"
SOURCE_OHM = 100.0
METER = 0.01
EXACT = 1e-6
EFFECTS = ("plain", "slide", "bounce", "creep", "loss")
VARIED = ("slide", "bounce", "compliance", "creep", "noise", "loss")
TAU_GROUPS_MS = (3.0, 6.0, 12.0, 25.0, 60.0)
IN_THE_HAND = ("none", "filter")
CASES = (
    ("none", 0.0),
    *((fault, share) for fault in ("derated", "filter") for share in (0.5, 1.0, 2.0, 4.0)),
    ("swapped", 0.0),
    ("misread", 0.0),
    ("weak_sink", 0.0),
)
SUSPECTS = {
    "derated": ("parts-bench", "class-2"),
    "filter": ("bench-hand", "firmware"),
    "swapped": ("parts-bench", "birch"),
    "misread": ("parts-bench", "ten times"),
    "weak_sink": ("parts-bench", "sinks weakly"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What a specimen is really made of, and what its record says of it; `firmware_s` is what its filter adds."""

    source_ohm: float
    series_ohm: float
    farad: float
    pin_f: float
    sink_ohm: float
    firmware_s: float
    said: tuple[float, float, float]
    quick_s: float = 0.0

    @property
    def bench_s(self) -> dict[str, float]:
        """True smoothing delay of the board by direction."""
        if self.pin_f:
            return {"rising": self.source_ohm * self.pin_f, "falling": self.sink_ohm * self.pin_f}
        return dict.fromkeys(("rising", "falling"), self.slow_s + self.quick_s)

    @property
    def slow_s(self) -> float:
        """True time constant of the capacitor behind the resistor."""
        return (self.source_ohm + self.series_ohm) * self.farad

    @property
    def hand_s(self) -> dict[str, float]:
        """True smoothing delay of the log by direction."""
        return {direction: delay + self.firmware_s for direction, delay in self.bench_s.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One specimen: every link with its true difference, and what was measured."""

    fault: str
    share: float
    truth: Truth
    links: tuple[tuple[ChainLink, float], ...]
    bench: Specimen
    hands: tuple[HandResult, ...]
    inside: tuple[float, ...]
    widths: tuple[float, ...]


def drawn_truth(fault: str, share: float, tau_s: float, rng: np.random.Generator) -> Truth:
    """Return a board of that time constant with its record, wrong in one link by `share` margins or as it is."""
    farad = rng.uniform(0.5e-6, 3e-6)
    series = tau_s / farad - SOURCE_OHM
    read = 1 + rng.normal(0, METER / 2, 2)
    said = (series * read[0], farad * read[1], 0.0)
    truth = Truth(
        source_ohm=SOURCE_OHM, series_ohm=series, farad=farad, pin_f=0.0, sink_ohm=0.0, firmware_s=0.0, said=said
    )
    band_s = 2 * METER * tau_s
    if fault == "derated":
        kept = max(0.25, 1 - share * max(MARGIN_S, band_s) / tau_s)
        return replace(truth, farad=farad * kept)
    if fault == "filter":
        return replace(truth, firmware_s=share * MARGIN_S)
    if fault == "swapped":
        return replace(truth, said=(series * rng.choice([0.45, 2.2]), farad * read[1], 0.0))
    if fault == "misread":
        return replace(truth, said=(series * rng.choice([0.1, 10.0]), farad * read[1], 0.0))
    if fault == "weak_sink":
        source = tau_s / farad
        sink = source * rng.uniform(1.6, 2.5) + MARGIN_S / farad
        weak = replace(truth, source_ohm=source, series_ohm=0.0, farad=0.0, pin_f=farad, sink_ohm=sink)
        return replace(weak, said=(0.0, 0.0, farad * read[1]))
    return truth


def record_of(truth: Truth, folder: Path) -> Specimen:
    """Return the specimen as its file tells: the sensor's source and the parts as read, nothing else."""
    path = new_profile("alder", folder)
    series, farad, pin = truth.said
    found = {"c1": (pin, "pin_capacitor")} if pin else {"r1": (series, "series_resistor"), "c1": (farad, "capacitor")}
    for position, (value, role) in found.items():
        dielectric = "X7R" if position == "c1" else ""
        part = part_found(
            position,
            f"{value:.6g}",
            role=role,
            measured="out_of_circuit",
            tolerance_percent=100 * METER * 2 / len(found),
            dielectric=dielectric,
        )
        note_part(path, part)
    profile = read_profile(path)
    sensor = replace(profile.sensor, source_ohm=truth.source_ohm, supply_v=1.333)
    return Specimen(profile=replace(profile, sensor=sensor, polarity={AXIS: 1, "left_y": 1}), state="as_found")


def bench_world(truth: Truth) -> BenchWorld:
    """Return the bench with this board on it."""
    slowest = max(truth.bench_s.values())
    half = max(0.05, 8 * slowest)
    interval = max(20e-6, half / 8000)
    parts = Parts(
        r_source_ohm=truth.source_ohm, r_series_ohm=truth.series_ohm, c_behind_f=truth.farad, c_pin_f=truth.pin_f,
        sink="resistor" if truth.pin_f else "strong", sink_ohm=truth.sink_ohm or 50e3,
        poles_s=(truth.quick_s,) if truth.quick_s else (),
    )  # fmt: skip
    return BenchWorld(
        coil=Coil(half_period_s=half),
        sensor=Sensor(sensitivity=1.2, offset_v=0.6),
        parts=parts,
        scope=Scope(duration_s=2 * half + 0.01, interval_s=interval),
    )


def recursion_of(delay_s: float, interval_s: float) -> float:
    """Return the time constant of a recursive filter of that mean delay.

    With weight a its mean delay is (1 - a) / a intervals and its time constant -1 / ln(1 - a) (exponential moving
    average, textbook): a time constant of one interval delays by 0.58 of it.
    """
    return interval_s / math.log1p(interval_s / delay_s) if delay_s else 0.0


def hand_results(truth: Truth, n_sessions: int, effect: str, rng: np.random.Generator) -> list[HandResult]:
    """Return the measured sessions of this board in a hand, 1 kHz and 12 bits."""
    network = Network.one_pole(truth.bench_s["rising"], truth.bench_s["falling"])
    results = []
    for _ in range(n_sessions):
        world = replace(world_with(effect, rng), network=network)
        recursive_s = recursion_of(truth.firmware_s, world.reports.interval_s)
        world = replace(world, firmware=replace(world.firmware, recursive_s=recursive_s))
        recording = simulate_recording(world, quick_script(16, rng), rng)
        results.append(analyse(prepare(recording), [GATE_STOP, LATTICE, REST]))
    return results


def varied_world(truth: Truth, rng: np.random.Generator) -> World:
    """Return a hand whose rim, noise, resolution and reports are drawn."""
    interval_s, bits = float(rng.choice([0.001, 0.001, 0.002, 0.004])), int(rng.integers(8, 13))
    world = world_with("plain", rng, report_interval_s=interval_s, bits=bits)
    for effect in VARIED:
        if rng.random() < 0.4:
            world = EFFECT_OF[effect](world, rng)
    poles = [tau for tau in (truth.slow_s, truth.quick_s) if tau]
    return replace(world, network=Network(poles_s=tuple((tau, tau) for tau in poles)))


def varied_outcome(seed: int) -> Outcome:
    """Return a sound specimen of drawn physics, one session, half of them with a second pole on the board."""
    rng = np.random.default_rng([seed, 4712])
    tau_s = math.exp(rng.uniform(math.log(0.003), math.log(0.06)))
    truth = replace(drawn_truth("none", 0.0, tau_s, rng), quick_s=tau_s * rng.choice([0.0, rng.uniform(0.05, 0.5)]))
    recording = simulate_recording(varied_world(truth, rng), quick_script(16, rng), rng)
    return measured_outcome(truth, [analyse(prepare(recording), [GATE_STOP, LATTICE, REST])], rng)


def specimen_outcome(fault: str, share: float, seed: int, *, tau_s: float = 0.0, n_sessions: int = 3) -> Outcome:
    """Return one whole specimen, its links and what its bench predicts of its own log."""
    rng = np.random.default_rng([seed, sum(map(ord, fault)), round(100 * share)])
    least = 0.006 if fault == "derated" else 0.003
    tau_s = tau_s or math.exp(rng.uniform(math.log(least), math.log(0.02)))
    truth = drawn_truth(fault, share, tau_s, rng)
    hands = hand_results(truth, n_sessions, str(rng.choice(EFFECTS)), rng)
    return measured_outcome(truth, hands, rng, fault=fault, share=share)


def measured_outcome(
    truth: Truth, hands: Sequence[HandResult], rng: np.random.Generator, *, fault: str = "none", share: float = 0.0
) -> Outcome:
    """Put the board on the bench, and everything that is known of the specimen into its record."""
    with tempfile.TemporaryDirectory() as folder:
        record = record_of(truth, Path(folder))
    bench = bench_record_of(measure_repeats([simulate_capture(bench_world(truth), rng)]), axis=AXIS)
    sessions = tuple(replace(hand_record_of(hand), state="as_found") for hand in hands)
    specimen = replace(record, profile=replace(record.profile, bench=(bench,), hand=sessions))
    everyone = (specimen, swapped_with(truth, record)) if fault == "swapped" else (specimen,)
    tails = [trace.marks for hand in hands[:1] for trace in predictions_of(specimen, hand)]
    return Outcome(
        fault=fault,
        share=share,
        truth=truth,
        links=tuple(
            (link, true_difference(link, truth, record))
            for link in chain_among(everyone, margin_s=MARGIN_S)
            if link.axis == AXIS and link.specimen == "alder"
        ),
        bench=specimen,
        hands=tuple(hands),
        inside=tuple(marks["inside_fraction"] for marks in tails),
        widths=tuple(marks["mean_width_fraction"] for marks in tails),
    )


def swapped_with(truth: Truth, record: Specimen) -> Specimen:
    """Return the other specimen of a pair whose records were mixed up: its record holds this one's parts."""
    true_values = {"r1": truth.series_ohm, "c1": truth.farad}
    parts = tuple(replace(part, value=true_values[part.position]) for part in record.profile.parts)
    return replace(record, profile=replace(record.profile, specimen="birch", parts=parts))


def true_difference(link: ChainLink, truth: Truth, record: Specimen) -> float:
    """Return what a perfect measurement would find between both ends of a link, s."""
    if link.link == "bench-hand":
        return truth.hand_s[link.direction] - truth.bench_s[link.direction]
    predicted = delay_from_parts(record, AXIS, link.direction)
    assert predicted is not None
    return truth.bench_s[link.direction] - (predicted.estimate.value or 0.0)


def place_of(link: ChainLink, difference: float) -> str:
    """Return where the truth lies: inside, on or beyond the link's margin."""
    share = abs(difference) / link.margin
    return "inside" if share < 0.95 else "on" if share <= 1.05 else "beyond"


def is_wrong(link: ChainLink, difference: float) -> bool:
    """Whether a verdict says what is not so; exactly on the margin either decision does."""
    beyond = abs(difference) / link.margin - 1.0
    return (link.verdict == "agree" and beyond > -EXACT) or (link.verdict == "disagree" and beyond < EXACT)


def names_the_suspect(outcome: Outcome) -> bool | None:
    """Whether the first hint of the link that was made wrong names the fault; None where it was not seen."""
    if outcome.fault not in SUSPECTS:
        return None
    kind, word = SUSPECTS[outcome.fault]
    seen = [link for link, _ in outcome.links if link.link == kind and link.verdict == "disagree"]
    return all(any(word in hint for hint in link.look_at[:2]) for link in seen) if seen else None


def limit(n_wrong: int, n: int) -> float:
    """Return the upper end of the exact 95 % interval of a share (Clopper and Pearson)."""
    return float(stats.binomtest(n_wrong, n).proportion_ci(0.95).high) if n else 1.0


def verdict_rows(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Yield the lines of the verdict table."""
    yield ("fault        share link         truth      n  agree%  disagr%  open%  wrong%  at most  suspect%")
    keys = dict.fromkeys((o.fault, o.share, link.link, place_of(link, d)) for o in outcomes for link, d in o.links)
    for fault, share, kind, place in keys:
        own = [o for o in outcomes if (o.fault, o.share) == (fault, share)]
        found = [(v, d) for o in own for v, d in o.links if v.link == kind and place_of(v, d) == place]
        yield _row(fault, f"{share:g}", kind, place, found, own)
    for kind in ("parts-bench", "bench-hand"):
        for place in ("inside", "on", "beyond"):
            found = [(v, d) for o in outcomes for v, d in o.links if v.link == kind and place_of(v, d) == place]
            if found:
                yield _row("all", "", kind, place, found, ())


def _row(
    fault: str, share: str, kind: str, place: str, found: Sequence[tuple[ChainLink, float]], own: Iterable[Outcome]
) -> str:
    n, counts = len(found), Counter(link.verdict for link, _ in found)
    wrong = sum(is_wrong(link, d) for link, d in found)
    named = [names_the_suspect(o) for o in own] if SUSPECTS.get(fault, ("",))[0] == kind else []
    told = [bool(x) for x in named if x is not None]
    suspect = f"{100 * np.mean(told):9.0f}" if told else f"{'-':>9}"
    shares = [100 * counts[v] / n for v in ("agree", "disagree", "cannot_tell")]
    return (
        f"{fault:<12} {share:>5} {kind:<12} {place:<7} {n:>4} {shares[0]:7.0f} {shares[1]:8.0f} {shares[2]:6.0f} "
        f"{100 * wrong / n:7.1f} {100 * limit(wrong, n):8.1f} {suspect}"
    )


def goal_pairs(outcome: Outcome) -> Iterator[tuple[str, Estimate, float]]:
    """Yield what bench alone says of the hand and what one log alone says of the bench, each beside the truth."""
    record, axis = outcome.bench.bench[-1], outcome.hands[0].axes[AXIS]
    for direction in ("rising", "falling"):
        found = record.directions.get(direction, {})
        for name in ("time_constant", "mean_delay"):
            if name in found:
                yield f"hand's {name.replace('_', ' ')} from the bench", found[name], outcome.truth.hand_s[direction]
        own = axis.rising if direction == "rising" else axis.falling
        yield "bench's time constant from the hand", own.time_constant, outcome.truth.bench_s[direction]


def goal_rows(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Yield the lines of the 10 % table, by quantity and time constant."""
    yield f"{'what':<36} {'tau ms':>7} {'n':>4} {'value%':>7} {'median%':>8} {'p95%':>6} {'in 10%':>7} {'cover%':>7}"
    groups: dict[tuple[str, float], list[tuple[Estimate, float]]] = {}
    for outcome in outcomes:
        tau_ms = round(1e3 * outcome.truth.bench_s["rising"], 1)
        for name, estimate, true_s in goal_pairs(outcome):
            groups.setdefault((name, tau_ms), []).append((estimate, true_s))
            groups.setdefault((name, math.inf), []).append((estimate, true_s))
    for (name, tau_ms), pairs in sorted(groups.items()):
        errors, covered = goal_errors(pairs)
        tau = "all" if math.isinf(tau_ms) else f"{tau_ms:g}"
        yield (
            f"{name:<36} {tau:>7} {len(pairs):>4} {100 * len(errors) / len(pairs):7.0f} {100 * np.median(errors):8.1f} "
            f"{100 * np.percentile(np.abs(errors), 95):6.1f} {100 * np.mean(np.abs(errors) <= 0.1):7.0f} "
            f"{100 * np.mean(covered):7.0f}"
        )


def goal_errors(pairs: Sequence[tuple[Estimate, float]]) -> tuple[list[float], list[bool]]:
    """Return relative errors of the values, and whether each interval holds the truth."""
    errors, covered = [], []
    for estimate, true_s in pairs:
        low, high = coverage_interval(estimate)
        if estimate.value is not None and low is not None and high is not None:
            errors.append(estimate.value / true_s - 1)
            covered.append(low <= true_s <= high)
    return errors, covered


def band_rows(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Yield the lines of the table of predicted tails, by time constant; too wide a band is not shown to anybody."""
    yield f"{'tau ms':>9} {'specimens':>10} {'tails':>6} {'shown%':>7} {'inside%':>8} {'>=90%':>6} {'width%':>7}"
    groups = [(low, high) for low, high in itertools.pairwise(TAU_GROUPS_MS)]
    for low, high in [*groups, (TAU_GROUPS_MS[0], TAU_GROUPS_MS[-1])]:
        own = [o for o in outcomes if low <= 1e3 * o.truth.slow_s < high + 1e-6]
        inside, widths = ([x for o in own for x in getattr(o, name)] for name in ("inside", "widths"))
        if inside:
            yield (
                f"{f'{low:g}-{high:g}':>9} {len(own):>10} {len(inside):>6} {100 * tails_shown(own):7.0f} "
                f"{100 * np.mean(inside):8.1f} {100 * np.mean(np.array(inside) >= 0.9):6.0f} "
                f"{100 * np.mean(widths):7.1f}"
            )


def tails_shown(outcomes: Sequence[Outcome]) -> float:
    """Return the share of tails whose band is narrow enough to say something."""
    return sum(len(o.inside) for o in outcomes) / (2 * TAILS_EACH * len(outcomes))


def goal_outcomes(taus_ms: Sequence[float], seeds: range) -> list[Outcome]:
    """Return whole specimens with nothing wrong, one session each."""
    return [specimen_outcome("none", tau, k, tau_s=tau / 1e3, n_sessions=1) for tau in taus_ms for k in seeds]


def verdict_outcomes(seeds: range, cases: tuple[str, ...] = ("",)) -> Iterator[Outcome]:
    """Yield specimens of every case whose label begins as asked; a wrong part needs no hand."""
    for fault, share in CASES:
        if f"{fault} {share:g}".startswith(cases):
            yield from (specimen_outcome(fault, share, k, n_sessions=3 if fault in IN_THE_HAND else 0) for k in seeds)


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--specimens", type=int, default=12, help="specimens a fault, and a time constant")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--only", choices=("verdicts", "goal", "band"), help="one table alone")
    parser.add_argument("--taus-ms", default="3,5,10,20,40,60")
    parser.add_argument("--cases", default="", help="faults of the verdict table, such as: none,filter 1")
    chosen = parser.parse_args()
    seeds = range(chosen.first_seed, chosen.first_seed + chosen.specimens)
    if chosen.only in (None, "verdicts"):
        outcomes = list(verdict_outcomes(seeds, tuple(chosen.cases.split(","))))
        print(*verdict_rows(outcomes), sep="\n", flush=True)
    if chosen.only in (None, "goal"):
        sound = goal_outcomes([float(tau) for tau in chosen.taus_ms.split(",")], seeds)
        print(*goal_rows(sound), sep="\n", flush=True)
    if chosen.only in (None, "band"):
        print(*band_rows([varied_outcome(k) for k in seeds]), sep="\n")


if __name__ == "__main__":
    main()
