"""Axis logs as robots, vehicles, games and plain pollers leave them: invented streams in many open layouts.

``python tests/properties/telemetry_logs.py 300`` writes, reads and measures 300 of them and prints what came of each
layout: read, refused (with the reasons), or wrong. The layouts come from knowledge of delimited telemetry in general
(common practice, no source).
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FeelcheckError
from feelcheck.pipeline import analyze

RATES_HZ = (8.0, 10.0, 20.0, 30.0, 50.0, 60.0, 100.0, 125.0, 250.0, 500.0, 1000.0)
EPOCH_NS = 1_790_000_000_000_000_000
Rows = NDArray[Any]


@dataclass(frozen=True, kw_only=True)
class Stream:
    """What was logged: instants (s), two axes as fractions, one button; and what is true of it."""

    t_s: Rows
    x: Rows
    y: Rows
    button: Rows
    interval_s: float
    traits: tuple[str, ...]


def stream(rng: np.random.Generator) -> Stream:
    """Return one invented stream."""
    interval_s = 1 / float(rng.choice(RATES_HZ))
    n = int(rng.integers(60, 900))
    t = interval_s * np.arange(n)
    kind = str(rng.choice(["play", "flicks", "still", "ends"], p=[0.5, 0.3, 0.1, 0.1]))
    tones = [np.sin(2 * np.pi * f * t + rng.uniform(0, 6)) for f in (0.3, 0.8, 2.1)]
    x, y = np.sum(tones, axis=0) / 2, np.sum([np.roll(tone, n // 5) for tone in tones], axis=0) / 2
    if kind == "flicks":
        x = np.where(np.sin(2 * np.pi * 0.7 * t) > 0.4, 0.9, 0.0)
        y = np.where(np.sin(2 * np.pi * 0.5 * t) > 0.4, -0.9, 0.0)
    elif kind == "still":
        x, y = np.where(np.arange(n) % 97 == 50, 0.02, 0.0), np.zeros(n)
    elif kind == "ends":
        x, y = np.sign(x), np.sign(y)
    traits = [kind]
    x, y = np.clip(x, -1, 1), np.clip(y, -1, 1)
    if rng.random() < 0.3:
        traits.append("dead zone")
        x, y = (np.where(np.abs(v) < 0.15, 0.0, v) for v in (x, y))
    if rng.random() < 0.3:
        traits.append("polled")
        held = np.arange(n) // int(rng.integers(2, 20))
        x, y = x[held], y[held]
    if rng.random() < 0.4:
        traits.append("jitter")
        t = np.sort(t + rng.exponential(0.2 * interval_s, n))
    if rng.random() < 0.2:
        traits.append("gap")
        t = t + np.where(np.arange(n) > n // 2, float(rng.choice([3.0, 400.0, 90000.0])), 0.0)
    if rng.random() < 0.15:
        traits.append("on change")
        keep = np.r_[True, (np.diff(x) != 0) | (np.diff(y) != 0)]
        t, x, y = t[keep], x[keep], y[keep]
    digits = int(rng.choice([2, 3, 6]))
    button = (np.arange(t.size) // 40 % 2).astype(int)
    return Stream(
        t_s=t, x=np.round(x, digits), y=np.round(y, digits), button=button, interval_s=interval_s, traits=tuple(traits)
    )


def _table(names: list[str], columns: list[Any], separator: str = ",") -> str:
    rows = (separator.join(map(str, row)) for row in zip(*columns, strict=True))
    return "\n".join([separator.join(names), *rows]) + "\n"


def topic(s: Stream, rng: np.random.Generator) -> str:
    """A topic written out, one nested name a column."""
    ns = (EPOCH_NS + np.rint(s.t_s * 1e9).astype(np.int64)).tolist()
    style = int(rng.integers(3))
    names = [
        ["%time", "field.header.seq", "field.header.stamp", "field.header.frame_id", "field.axes0", "field.axes1",
         "field.buttons0"],
        ["time", "header.seq", "header.stamp.secs", "header.stamp.nsecs", "axes.0", "axes.1", "buttons.0"],
        ["Time", "header.stamp.sec", "header.stamp.nanosec", "header.frame_id", "axes[0]", "axes[1]", "buttons[0]"],
    ][style]  # fmt: skip
    seq = list(range(len(ns)))
    stamps = [
        [ns, seq, ns, [""] * len(ns)],
        [[t / 1e9 for t in ns], seq, [t // 10**9 for t in ns], [t % 10**9 for t in ns]],
        [[t / 1e9 for t in ns], [t // 10**9 for t in ns], [t % 10**9 for t in ns], ["pad"] * len(ns)],
    ][style]
    return _table(names, [*stamps, s.x.tolist(), s.y.tolist(), s.button.tolist()])


def lists(s: Stream, rng: np.random.Generator) -> str:
    """Lists inside cells."""
    mark = [("[", "]"), ("(", ")"), ("array('f', [", "])")][int(rng.integers(3))]
    inside = [", ", ",", " "][int(rng.integers(3))]
    axes = [f'"{mark[0]}{x}{inside}{y}{mark[1]}"' for x, y in zip(s.x.tolist(), s.y.tolist(), strict=True)]
    buttons = [f'"[{b}, 0, 0]"' for b in s.button.tolist()]
    return _table(["time_s", "axes", "buttons"], [[f"{t:.6f}" for t in s.t_s], axes, buttons])


def json_lines(s: Stream, rng: np.random.Generator) -> str:
    """One object a line."""
    rows = []
    for t, x, y, b in zip(s.t_s.tolist(), s.x.tolist(), s.y.tolist(), s.button.tolist(), strict=True):
        row: dict[str, Any] = {"t_ms": round(1e3 * t, 3), "stick": {"x": x, "y": y}, "buttons": [b, 0]}
        if rng.random() < 0.02:
            row["note"] = "bump; then quiet"
        rows.append(json.dumps(row))
    return "\n".join(rows) + "\n"


def json_columns(s: Stream, rng: np.random.Generator) -> str:
    """One object of columns, or a list of objects."""
    if rng.random() < 0.5:
        return json.dumps({"time_s": s.t_s.round(6).tolist(), "x": s.x.tolist(), "y": s.y.tolist()})
    pairs = zip(s.t_s.round(6).tolist(), s.x.tolist(), s.y.tolist(), strict=True)
    return json.dumps([{"time_s": t, "x": x, "y": y} for t, x, y in pairs], indent=int(rng.choice([0, 2])) or None)


def vehicle(s: Stream, rng: np.random.Generator) -> str:
    """A vehicle's signals, German commas, units in a row below the names."""
    speed = 20 + np.cumsum(s.y) * 0.01
    rows = zip(s.t_s, 540 * s.x, 100 * np.abs(s.y), speed, strict=True)
    body = "\n".join(";".join(f"{v:.3f}".replace(".", ",") for v in row) for row in rows)
    return "Zeit;Lenkradwinkel;Pedalstellung;Geschwindigkeit\ns;deg;%;km/h\n" + body + "\n"


def game(s: Stream, rng: np.random.Generator) -> str:
    """Frames of a game: a frame counter and the time since the frame before."""
    dt = np.diff(s.t_s, prepend=s.t_s[0] - s.interval_s)
    return _table(
        ["frame", "delta_time", "stick.x", "stick.y", "fire"],
        [list(range(s.t_s.size)), dt.round(6).tolist(), s.x.tolist(), s.y.tolist(), s.button.astype(bool).tolist()],
    )


def pulses(s: Stream, rng: np.random.Generator) -> str:
    """A receiver's pulse widths, microseconds since boot in 32 bits."""
    us = (2**32 - 3_000_000 + np.rint(s.t_s * 1e6).astype(np.int64)) % 2**32
    return _table(
        ["micros", "ch_roll", "ch_pitch", "ch_aux"],
        [
            us.tolist(),
            (1500 + 500 * s.x).astype(int).tolist(),
            (1500 + 500 * s.y).astype(int).tolist(),
            [1500] * us.size,
        ],
    )


def events(s: Stream, rng: np.random.Generator) -> str:
    """One event a row, groups that may be empty."""
    rows = []
    for t, x, y, b in zip(s.t_s.tolist(), s.x.tolist(), s.y.tolist(), s.button.tolist(), strict=True):
        rows += [f"{t:.6f},axis,x,{x}", f"{t:.6f},axis,y,{y}", f"{t:.6f},button,fire,{b}"]
    if rng.random() < 0.3:
        rows = [row.rsplit(",", 1)[0] + "," if "fire" in row else row for row in rows]
    if rng.random() < 0.1:
        rows = [row.rsplit(",", 1)[0] + "," for row in rows]
    return "\n".join(["time_s,type,name,value", *rows]) + "\n"


def sparse(s: Stream, rng: np.random.Generator) -> str:
    """Empty cells where an axis said nothing."""
    x = [str(v) if k % 2 == 0 else "" for k, v in enumerate(s.x.tolist())]
    y = [str(v) if k % 2 == 1 else "nan" for k, v in enumerate(s.y.tolist())]
    return _table(["timestamp_ms", "x", "y"], [(1e3 * s.t_s).round(3).tolist(), x, y])


def labelled(s: Stream, rng: np.random.Generator) -> str:
    """Labels inside the cells."""
    rows = zip(s.t_s, s.x.tolist(), s.y.tolist(), strict=True)
    return "\n".join(f"t={t:.6f} x={x} y={y}" for t, x, y in rows) + "\n"


def torn(s: Stream, rng: np.random.Generator) -> str:
    """Rows cut, doubled, and a second header."""
    lines = _table(
        ["time_us", "x", "y"], [np.rint(1e6 * s.t_s).astype(int).tolist(), s.x.tolist(), s.y.tolist()]
    ).split("\n")
    for _ in range(int(rng.integers(1, 6))):
        k = int(rng.integers(1, len(lines) - 1))
        how = int(rng.integers(4))
        lines[k] = [lines[k][: len(lines[k]) // 2], lines[k] + lines[k], lines[0], ""][how]
    return "\n".join(lines)


LAYOUTS: dict[str, Callable[[Stream, np.random.Generator], str]] = {
    "topic": topic, "lists": lists, "json lines": json_lines, "json columns": json_columns, "vehicle": vehicle,
    "game": game, "pulses": pulses, "events": events, "sparse": sparse, "labelled": labelled, "torn": torn,
}  # fmt: skip


def judge(seed: int, folder: Path) -> tuple[str, tuple[str, ...], str, str]:
    """Return layout, traits, verdict (read, refused, wrong) and details; anything but FeelcheckError gets through."""
    rng = np.random.default_rng(seed)
    layout = list(LAYOUTS)[int(rng.integers(len(LAYOUTS)))]
    made = stream(rng)
    path = folder / "cedar.csv"
    path.write_text(LAYOUTS[layout](made, rng), encoding="utf-8")
    try:
        result = analyze(path)
    except FeelcheckError as refusal:
        return layout, made.traits, "refused", refusal.sentence
    wrong = []
    span = max(float(s.time.t_s[-1] - s.time.t_s[0]) for s in result.recording.streams)
    if abs(span - float(made.t_s[-1] - made.t_s[0])) > 0.02 * span + 3 * made.interval_s:
        wrong.append(f"{span:.4g} s long for {made.t_s[-1] - made.t_s[0]:.4g}")
    interval = result.timing.interval if hasattr(result.timing, "interval") else None
    interval = result.timing.report_interval
    if interval.value is not None:
        ratio = interval.value / made.interval_s
        if "polled" not in made.traits and "on change" not in made.traits and abs(ratio - 1) > 0.03:
            wrong.append(f"report interval {1e3 * interval.value:.4g} ms for {1e3 * made.interval_s:.4g}")
    return layout, made.traits, "wrong" if wrong else "read", "; ".join(wrong)


def main(n: int, first: int = 0) -> int:
    """Print what became of n streams, by layout."""
    by_layout: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + n):
            layout, traits, verdict, details = judge(seed, Path(folder))
            by_layout.setdefault(layout, Counter())[verdict] += 1
            if verdict != "read":
                sys.stdout.write(f"seed {seed}: {layout} ({', '.join(traits)}): {verdict}: {details}\n")
    for layout, counts in sorted(by_layout.items()):
        sys.stdout.write(
            f"{layout:14} read {counts['read']:4} refused {counts['refused']:4} wrong {counts['wrong']:4}\n"
        )
    return min(1, sum(counts["wrong"] for counts in by_layout.values()))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, int(sys.argv[2]) if len(sys.argv) > 2 else 0))
