"""Axis logs put together at random, with the truth of what they say; run it to see what is read, refused or wrong.

``python tests/properties/random_logs.py 2000`` writes and reads 2000 logs and prints a table by trait.
"""

from __future__ import annotations

import runpy
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.model import Recording

CAPTURES: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("random_captures.py")))
NAMES = (
    ("left_x", "left_y"), ("x", "y"), ("LX", "LY", "RX", "RY"), ("Left Stick X", "Left Stick Y"), ("axis_0", "axis_1"),
    ("roll", "pitch"), ("stick_x",), ("X-axis", "Y-axis"),
)  # fmt: skip
UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
TIME_NAMES = ("t_{u}", "time_{u}", "timestamp_{u}", "time ({u})", "Time [{u}]", "elapsed_{u}", "t ({u})")
RANGES = ((-32768, 32767), (0, 255), (0, 1023), (0, 4095), (0, 65535), (-128, 127), (-1000, 1000))
EPOCH_S = 1_790_000_000
EVENTS = ("", "torn", "restart", "one step back", "gap", "more columns later", "blank cells", "header again", "comment",
          "blank lines", "beyond full scale")  # fmt: skip


@dataclass(kw_only=True)
class Log:
    """One log, its truth and its traits; `may_lose` is the share of rows that may be left out if a remark says so."""

    data: bytes
    names: list[str]
    codes: list[NDArray[Any]]
    t_s: NDArray[np.float64]
    traits: dict[str, str]
    options: dict[str, Any] = field(default_factory=dict)
    resolution_s: float = 1e-9
    may_lose: float = 0.0


def motion(draw: Any, n: int, names: tuple[str, ...]) -> list[NDArray[Any]]:
    """Return what each axis says: whole counts of some range, or fractions with some digits."""
    kind = draw.pick("values", ["counts", "fractions"], [3, 2])
    low, high = RANGES[int(draw.rng.integers(len(RANGES)))]
    digits = int(draw.pick("digits", [3, 5, 7])) if kind == "fractions" else 0
    found: list[NDArray[Any]] = []
    k = np.arange(n)
    for number, _ in enumerate(names):
        period = 97.0 + 31 * number
        path = np.clip(1.15 * np.sin(2 * np.pi * k / period + number), -1, 1) + 0.004 * draw.rng.standard_normal(n)
        path = np.clip(path, -1, 1)
        if kind == "counts":
            found.append(np.rint((low + high) / 2 + path * (high - low) / 2).astype(np.int64).clip(low, high))
        else:
            found.append(np.round(path, digits))
    return found


def stamps(draw: Any, log_t: NDArray[np.float64], interval: float) -> tuple[str, list[str], dict[str, Any], float]:
    """Return name and cells of the time column, what must be stated, and the rounding."""
    how = draw.pick("time", ["number", "clock", "iso", "epoch", "counter", "none"], [6, 1, 1, 1.5, 1, 0.5])
    if how == "none":
        return "", [], {"rate_hz": 1 / interval}, 1e-9
    if how == "counter":
        first = int(draw.rng.integers(3))
        cells = [str(first + round(t / interval)) for t in log_t]
        return str(draw.rng.choice(["frame", "sample", "index", "n"])), cells, {"rate_hz": 1 / interval}, 1e-9
    if how in ("clock", "iso"):
        mark = str(draw.pick("clock mark", [".", ","], [3, 1]))
        begin = float(draw.rng.choice([0.5, 3599.0, 45000.25, 86399.0]))
        us = [round((begin + t) * 1e6) for t in log_t]
        clock = [
            f"{u // 3600000000 % 24:02d}:{u // 60000000 % 60:02d}:{u // 1000000 % 60:02d}{mark}{u % 1000000:06d}"
            for u in us
        ]
        days = [f"2026-11-{25 + u // 86400000000}{'T' if draw.traits['seed'][-1] in '02468' else ' '}" for u in us]
        return "time", [d + c if how == "iso" else c for d, c in zip(days, clock, strict=True)], {}, 1e-6
    unit = str(draw.pick("unit", list(UNITS)))
    name = str(draw.pick("time name", TIME_NAMES)).format(u=unit)
    offset = EPOCH_S if how == "epoch" else 0
    ticks = [offset * round(1 / UNITS[unit]) + t / UNITS[unit] for t in log_t]
    if unit in ("us", "ns") or (unit == "ms" and interval >= 1e-3 and draw.chance(0.6)):
        whole = [offset * round(1 / UNITS[unit]) + round(t / UNITS[unit]) for t in log_t]
        return name, [str(w) for w in whole], {}, 0.5 * UNITS[unit] + (4e-7 if how == "epoch" else 0)
    digits = 6 if unit == "s" else 3
    return name, [f"{tick:.{digits}f}" for tick in ticks], {}, 0.5 * UNITS[unit] * 10**-digits + (4e-7 if offset else 0)


def make(seed: int) -> Log:
    """Return the log of one seed and what must be read from it."""
    draw = CAPTURES["Draw"](seed)
    draw.traits["seed"] = str(seed)
    n = int(draw.rng.integers(200, 700))
    style = CAPTURES["number_style"](draw)
    style.thousands = style.exponent = ""
    style.minus = "-"
    interval = float(draw.pick("interval", [1e-3, 2e-3, 4e-3, 8e-3, 1e-2]))
    names = NAMES[int(draw.rng.integers(len(NAMES)))]
    codes = motion(draw, n, names)
    event = draw.pick("event", EVENTS, [6, *[1] * (len(EVENTS) - 1)])
    t: NDArray[np.float64] = np.asarray(interval * np.arange(n), dtype=np.float64)
    cut = n // 3
    if event == "gap":
        t[cut:] += 2.5
    elif event == "restart":
        t[cut:] -= t[cut]
    elif event == "one step back":
        t[cut] -= 3.3 * interval
    elif event == "beyond full scale" and draw.traits["values"] == "'fractions'":
        codes[0][cut : cut + 5] = 1.25
    time_name, cells, options, resolution = stamps(draw, t, interval)
    if "rate_hz" in options and event in ("gap", "restart", "one step back"):
        event = draw.traits["event"] = ""
        time_name, cells, options, resolution = "", [], {"rate_hz": 1 / interval}, 1e-9
        t = np.asarray(interval * np.arange(n), dtype=np.float64)
    columns = [cells] if cells else []
    columns += [
        [f"{v:.7f}".rstrip("0") + "0" if isinstance(v, float) else str(v) for v in own.tolist()] for own in codes
    ]
    log = Log(
        data=b"", names=list(names), codes=codes, t_s=t, traits=draw.traits, options=options, resolution_s=resolution
    )
    log.data = text_of(draw, log, columns, time_name, style, event)
    return log


def text_of(draw: Any, log: Log, columns: list[list[str]], time_name: str, style: Any, event: str) -> bytes:
    sep = style.separator
    n = log.t_s.size
    heads = ([time_name] if time_name else []) + log.names
    if sep.strip() == "" and sep != "\t":
        heads = [head.replace(" ", "_") for head in heads]
        columns = [[cell.replace(" ", "T") for cell in column] for column in columns]
        log.names = [name.replace(" ", "_") for name in log.names]
    rows = [sep.join(CAPTURES["written"](cell, style) for cell in cells) for cells in zip(*columns, strict=True)]
    heading = sep.join(heads)
    if event == "more columns later":
        rows[n // 2 :] = [row + sep + "7" for row in rows[n // 2 :]]
        log.may_lose = 0.55
    elif event == "blank cells" and len(log.names) > 1 and sep.strip(" "):
        for k in (20, 50, 90):
            rows[k] = rows[k].rsplit(sep, 1)[0] + sep
        log.may_lose = 3.5 / n
    elif event == "header again":
        rows.insert(n // 2, heading)
        log.may_lose = 1.5 / n
    elif event == "comment":
        rows.insert(n // 2, "# a note")
    elif event == "blank lines":
        rows.insert(n // 2, "")
    elif event == "torn":
        rows[-1] = rows[-1][: max(1, len(rows[-1]) - 3)]
        log.may_lose = 1.5 / n
    elif event == "one step back":
        log.may_lose = 4.5 / n
        log.t_s = np.maximum.accumulate(log.t_s)  # the row is kept, at the instant of the one before
    before = [] if draw.chance(0.7) else ["# recorded at the bench", "# specimen: birch"]
    return bytes(CAPTURES["encoded"](draw, [*before, heading, *rows], event == "torn"))


def wrongs(log: Log, found: Recording) -> list[str]:
    """Return what was read wrongly."""
    wrong = []
    got = {stream.name: stream for stream in found.streams}
    if list(got) != log.names:
        return [f"axes {list(got)} for {log.names}"]
    n_lost = max(log.t_s.size - stream.codes.size for stream in got.values())
    if n_lost < 0 or n_lost > log.may_lose * log.t_s.size:
        return [f"{log.t_s.size - n_lost} rows for {log.t_s.size}"]
    if n_lost and not found.provenance.remarks:
        wrong.append(f"{n_lost} rows left out without a word")
    for name, truth in zip(log.names, log.codes, strict=True):
        values, t = np.asarray(got[name].codes, np.float64), got[name].time.t_s
        if not n_lost:
            if not np.allclose(values, truth, rtol=0, atol=1e-9):
                wrong.append(f"codes of {name}: {values[:3]} for {truth[:3]}")
            steps, true_steps = np.diff(t), np.diff(log.t_s)
            ahead = true_steps > 0
            if np.any(np.abs(steps - true_steps)[ahead] > 4 * log.resolution_s + 1e-9):
                wrong.append(f"steps of {name}: {steps[:3]} for {true_steps[:3]}")
        elif not _is_part(values, truth):
            wrong.append(f"codes of {name} are not those of the file")
    return wrong


def _is_part(part: NDArray[Any], whole: NDArray[Any]) -> bool:
    """Tell whether `part` is `whole` with some elements left out."""
    place = 0
    for value in whole:
        place += place < part.size and abs(part[place] - value) < 1e-9
    return place == part.size


def judge(log: Log, folder: Path) -> tuple[str, str]:
    """Return ``read``, ``refused`` or ``wrong``, and the details."""
    path = folder / "birch.csv"
    path.write_bytes(log.data)
    reader = DelimitedReader()
    assert 0.0 <= reader.claims(path) <= 1.0
    try:
        found = reader.read(path, **log.options)
    except FormatError as refusal:
        return "refused", str(refusal).replace("\n", " / ")
    wrong = wrongs(log, found)
    return ("wrong", "; ".join(wrong)) if wrong else ("read", "")


if __name__ == "__main__":
    sys.exit(CAPTURES["table"](*CAPTURES["asked"](), make, judge))
