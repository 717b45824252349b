"""Capture files put together at random, with the truth of what they say; run it to see what is read, refused or wrong.

``python tests/properties/random_captures.py 3000`` writes and reads 3000 files and prints a table by trait.

How instruments export is common practice, no source. Every value's truth is the number as it is written.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats.scope import claims, read_captures
from feelcheck.model import Capture

Floats = NDArray[np.float64]
INTERVALS_S = (2e-7, 1e-6, 4e-6, 2e-5, 5e-5, 1e-4, 4e-4, 1e-3, 2e-3)
TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9, "sec": 1.0}
VALUE_UNITS = {"V": ("V", 1.0), "mV": ("V", 1e-3), "Volt": ("V", 1.0), "A": ("A", 1.0), "mA": ("A", 1e-3),
               "mT": ("mT", 1.0)}  # fmt: skip
NAMES = (
    "CH1",
    "CH2",
    "Channel A",
    "Channel B",
    "C1",
    "C2",
    "Ausgang",
    "Sensor out",
    "Trace 1",
    "Signal 2",
    "A0",
    "Probe_1",
)
DRIVE_NAMES = {"A": ("Coil", "Strom", "I_coil"), "mT": ("Field", "B ref"), "V": ("Drive", "CH3", "Gen out")}
DECOYS = (
    ("Model", "none"), ("Firmware", "1.02.03"), ("Serial", "00123"), ("Record Length", "{n}"),
    ("Trigger Level", "0.50V"),
    ("Vertical Scale", "0.5"), ("Coupling", "DC"), ("Probe", "10X"), ("Date", "2026-11-25"), ("Averages", "16"),
    ("Bandwidth Limit", "20MHz"), ("Vertical Offset", "-1.20"), ("Comment", "bench by the window"),
    ("Acq Mode", "Sample"),
    ("Trigger Position", "0.1"), ("Supply", "1.8 V"), ("Display", "YT"), ("Saved at", "12:30:15"), ("Attenuation", "1"),
    ("Operator", "Robin"), ("Specimen", "birch"), ("Memory", "Auto"), ("Position", "0.00E+00"), ("Segments", "1"),
)  # fmt: skip
INTERVAL_KEYS = ("Sample Interval", "Increment", "Sampling Period", "dt", "Time Increment", "Delta T", "XINCR",
                 "H Resolution", "Time per sample")  # fmt: skip
RATE_KEYS = ("Sample Rate", "Sampling Rate", "Samplerate", "Sampling Frequency", "fs", "Acquisition rate")
START_KEYS = ("Start Time", "XZERO", "Time Offset", "X0", "First sample")
MARKERS = ("OL", "inf", "-inf", "---", "9.9E+37", "+9.91E+37", "NaN", "OVER", "∞", "****", "Overload")
COMMENTS = ("touched the probe", "coil on here", "note: hum", "here it steps")


@dataclass(kw_only=True)
class Truth:
    """One channel as it must come out: values in inside units, NaN where over range."""

    name: str
    unit: str
    values: Floats


@dataclass(kw_only=True)
class Case:
    """Files, their truth, and the traits that they were made of."""

    files: dict[str, bytes] = field(default_factory=dict)
    channels: list[Truth] = field(default_factory=list)
    t_s: Floats
    interval_s: float
    resolution_s: float = 0.0
    traits: dict[str, str] = field(default_factory=dict)


class Draw:
    """Draws traits and remembers them."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng([20261126, seed])
        self.traits: dict[str, str] = {}

    def pick(self, trait: str, options: Sequence[Any], weights: Sequence[float] | None = None) -> Any:
        p = None if weights is None else np.asarray(weights) / np.sum(weights)
        chosen = options[int(self.rng.choice(len(options), p=p))]
        if trait:
            self.traits[trait] = repr(chosen)
        return chosen

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)


# --- numbers ----------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True)
class Style:
    """How numbers and cells are written."""

    separator: str
    decimal: str
    exponent: str
    minus: str
    plus: bool
    thousands: str
    quoted: bool

    def cell(self, text: str) -> str:
        """Return a plain number such as ``-1234.5e-03`` in this style."""
        sign, text = ("-", text[1:]) if text.startswith("-") else ("", text.lstrip("+"))
        mantissa, _, exponent = text.partition("e")
        whole, point, rest = mantissa.partition(".")
        if self.thousands and whole.isdigit():
            whole = f"{int(whole):,}".replace(",", self.thousands) if len(whole) > 3 else whole
        out = whole + (self.decimal if point else "") + rest
        if exponent:
            power = int(exponent)
            tail = {"×10^": f"×10^{power}", "*10^": f"*10^{power}"}.get(self.exponent, f"{self.exponent}{power:+03d}")
            out += tail.replace("-", self.minus)
        out = (self.minus if sign else "+" if self.plus else "") + out
        return f'"{out}"' if self.quoted else out


def number_style(draw: Draw) -> Style:
    separator = draw.pick("separator", [",", ";", "\t", "|", ", ", " ; ", "  ", ",\t"], [6, 4, 4, 1, 1, 1, 1.5, 0.3])
    quoted = draw.chance(0.08)
    bare = separator.strip(" ") or " "
    marks = ["."] if "," in bare and not quoted else [".", ","]
    decimal = draw.pick("decimal", marks)
    usual = [",", ".", "'", " ", "\u00a0", "\u202f", "’"]
    allowed = [
        m for m in usual if m != decimal and (quoted or m not in bare) and (quoted or not (bare == " " and m.isspace()))
    ]
    thousands = draw.pick("thousands", ["", *allowed], [6, *[0.5] * len(allowed)])
    draw.traits["quoted"] = str(quoted)
    return Style(
        separator=separator,
        decimal=decimal,
        exponent=draw.pick("exponent", ["e", "E", "D", "×10^", "*10^"], [4, 4, 0.4, 0.4, 0.3]),
        minus=draw.pick("minus", ["-", "\u2212"], [9, 1]),
        plus=draw.chance(0.1),
        thousands=thousands,
        quoted=quoted,
    )


FORMATS = ("%.4f", "%.6f", "%.5e", "%.8e", "%.6g", "%09.4f")


# --- channels ---------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True)
class Column:
    """One written column: its name, unit as written, and cells as plain numbers or markers."""

    name: str
    unit: str
    cells: list[str]
    is_time: bool = False


def waveforms(draw: Draw, n: int) -> list[Floats]:
    k = np.arange(n)
    onset = n // 4
    drive = np.where(k < onset, -1.0, 1.0 - 2.0 * np.exp(-np.maximum(k - onset, 0) / (0.02 * n)))
    out = 0.2 + 1.4 * np.where(k < onset, 0.0, 1.0 - np.exp(-np.maximum(k - onset, 0) / (0.12 * n)))
    third = 1.8 + 0.01 * draw.rng.standard_normal(n)
    noise = [0.003 * draw.rng.standard_normal(n) for _ in range(2)]
    return [drive + noise[0], out + noise[1], third]


def channels(draw: Draw, n: int) -> tuple[list[Column], list[Truth]]:
    waves = waveforms(draw, n)
    kind = draw.pick("channels", ["out", "drive,out", "drive,out,third", "counts", "hex"], [3, 5, 1, 1.5, 0.3])
    columns, truths = [], []
    outs = list(NAMES)
    draw.rng.shuffle(outs)
    form = draw.pick("format", FORMATS)
    named = kind if kind in ("counts", "hex") else kind.split(",")
    for k, what in enumerate([named] if isinstance(named, str) else named):
        if what in ("counts", "hex"):
            codes = np.rint(2048 + 1000 * waves[1]).astype(int)
            cells = [hex(code) if what == "hex" else str(code) for code in codes]
            columns.append(Column(name=outs[k], unit="", cells=cells))
            truths.append(Truth(name=outs[k], unit="counts", values=codes.astype(np.float64)))
            continue
        unit = str(draw.rng.choice(["A", "mA", "mT", "V"] if what == "drive" else ["V", "mV", "Volt"]))
        inside, factor = VALUE_UNITS[unit]
        name = str(draw.rng.choice(DRIVE_NAMES[inside])) if what == "drive" else outs[k]
        scaled = waves[("drive", "out", "third").index(what)] / factor
        cells = [form % value for value in scaled]
        columns.append(Column(name=name, unit=unit, cells=cells))
        truths.append(Truth(name=name, unit=inside, values=np.array([float(c) for c in cells]) * factor))
    return columns, truths


def add_markers(draw: Draw, columns: list[Column], truths: list[Truth]) -> None:
    how = draw.pick("missing", ["", "marker", "late start"], [7, 2, 1])
    if not how:
        return
    k = int(draw.rng.integers(len(columns)))
    n = len(columns[k].cells)
    rows = draw.rng.choice(n - 2, size=n // 12, replace=False) + 1 if how == "marker" else np.arange(n // 10)
    if how == "late start" and (len(columns) < 2 or draw.traits["separator"] == "'  '"):
        return
    text = draw.pick("marker", MARKERS) if how == "marker" else ""
    for row in rows:
        columns[k].cells[row] = text
    truths[k].values[rows] = np.nan


# --- time -------------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True)
class Time:
    """How time is told: columns, settings, and how exactly."""

    columns: list[Column] = field(default_factory=list)
    settings: list[tuple[str, str]] = field(default_factory=list)
    t_s: Floats
    interval_s: float
    resolution_s: float = 0.0


def quantity(draw: Draw, value_s: float, *, rate: bool = False) -> str:
    """Return a time or rate as a setting writes it."""
    units = [("Hz", 1.0), ("kHz", 1e3), ("kSa/s", 1e3), ("MSa/s", 1e6), ("Sa/s", 1.0)] if rate else [
        ("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("", 1.0), ("ns", 1e-9)]  # fmt: skip
    unit, factor = units[int(draw.rng.integers(len(units)))]
    number = f"{value_s / factor:.9g}" if draw.chance(0.6) else f"{value_s / factor:.6E}"
    return f"{number}{' ' if draw.chance(0.5) else ''}{unit}"


def time_axis(draw: Draw, n: int) -> Time:
    interval = float(draw.pick("interval", INTERVALS_S))
    start = float(draw.pick("start", [0.0, -0.25, 0.1])) * n * interval
    how = draw.pick(
        "time",
        ["column", "rounded", "settings", "counter", "dt", "clock", "stamp", "index first", "rounded, no interval"],
        [6, 1, 2, 1.5, 0.5, 0.7, 0.7, 1, 0.5],
    )
    t: Floats = start + interval * np.arange(n, dtype=np.float64)
    makers: dict[str, Callable[[], Time]] = {
        "column": lambda: time_column(draw, t, interval),
        "index first": lambda: counted(draw, time_column(draw, t, interval), n),
        "rounded": lambda: rounded(draw, t, interval, told=True),
        "rounded, no interval": lambda: rounded(draw, t, interval, told=False),
        "settings": lambda: told(draw, start, interval, n),
        "counter": lambda: counted(draw, told(draw, start, interval, n), n),
        "dt": lambda: differences(draw, interval, n),
        "clock": lambda: clock(draw, n, date=False),
        "stamp": lambda: clock(draw, n, date=True),
    }
    found = makers[how]()
    if how in ("column", "index first") and draw.chance(0.3):
        found.settings.append((str(draw.rng.choice(INTERVAL_KEYS)), f"{interval:.6E}"))
    return found


def time_column(draw: Draw, t: Floats, interval: float) -> Time:
    unit = str(draw.pick("time unit", [u for u, f in TIME_UNITS.items() if 1e-5 < interval / f < 1e7]))
    factor = TIME_UNITS[unit]
    digits = int(np.ceil(-np.log10(interval / factor))) + 2
    name = str(draw.pick("time name", ["Time", "t", "TIME", "Zeit", "x-axis", "timestamp"]))
    form = f"%.{max(0, digits)}f" if draw.chance(0.6) else "%.9e"
    cells = [form % (value / factor) for value in t]
    read = np.array([float(c) for c in cells]) * factor
    return Time(columns=[Column(name=name, unit=unit, cells=cells, is_time=True)], t_s=read, interval_s=interval,
                resolution_s=float(np.max(np.abs(read - t))))  # fmt: skip


def rounded(draw: Draw, t: Floats, interval: float, *, told: bool) -> Time:
    """Times with so few digits that neighbours repeat."""
    step = 10.0 ** np.ceil(np.log10(interval * 1.5))
    digits = int(max(0, np.rint(-np.log10(step))))
    cells = [f"%.{digits}f" % value for value in t]
    settings = [(str(draw.rng.choice(INTERVAL_KEYS)), f"{interval:.6E}")] if told else []
    column = Column(name="Time", unit="s", cells=cells, is_time=True)
    return Time(columns=[column], settings=settings, t_s=t, interval_s=interval, resolution_s=step)


def told(draw: Draw, start: float, interval: float, n: int) -> Time:
    rate = draw.chance(0.4)
    key = str(draw.rng.choice(RATE_KEYS if rate else INTERVAL_KEYS))
    settings = [(key, quantity(draw, 1.0 / interval, rate=True) if rate else quantity(draw, interval))]
    if draw.chance(0.5):
        settings.append((str(draw.rng.choice(START_KEYS)), f"{start:.8E}"))
    else:
        start = 0.0
    t: Floats = np.asarray(start + interval * np.arange(n))
    return Time(settings=settings, t_s=t, interval_s=interval, resolution_s=1e-7 * abs(start))


def counted(draw: Draw, time: Time, n: int) -> Time:
    first = int(draw.rng.integers(2))
    name = str(draw.rng.choice(["Sample", "Index", "No.", "n", "#", ""]))
    counter = Column(name=name, unit="", cells=[str(first + k) for k in range(n)], is_time=True)
    time.columns.insert(0, counter)
    return time


def differences(draw: Draw, interval: float, n: int) -> Time:
    cells = [f"{interval * 1e6:.4f}"] * n
    column = Column(name="dt", unit="us", cells=cells, is_time=True)
    return Time(columns=[column], t_s=np.asarray(interval * np.arange(n)), interval_s=interval)


def clock(draw: Draw, n: int, *, date: bool) -> Time:
    interval = float(draw.rng.choice([1e-3, 2e-3, 5e-3, 1e-2]))
    mark = str(draw.pick("clock mark", [".", ","]))
    begin = float(draw.rng.choice([0.0, 3599.9, 45000.25, 86399.95]))
    cells = []
    for k in range(n):
        ms = round((begin + k * interval) * 1e3)
        text = f"{ms // 3600000 % 24:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}{mark}{ms % 1000:03d}"
        day = 25 + ms // 86400000
        cells.append((f"2026-11-{day}" + str(draw.traits.get("stamp mark", " ")) if date else "") + text)
    column = Column(name="Time" if not date else "Date and time", unit="", cells=cells, is_time=True)
    return Time(
        columns=[column], t_s=np.asarray(begin + interval * np.arange(n)), interval_s=interval, resolution_s=1e-9
    )


# --- text -------------------------------------------------------------------------------------------------------------


def heading(draw: Draw, columns: list[Column], style: Style) -> list[str]:
    """Return the lines that name the columns, in a random style that tells every unit."""
    sep = style.separator
    styles = ["Name (u)", "Name [u]", "Name_u", "Name in u", "Name/u", "units row", "(units) row", "cells", "# names"]
    how = draw.pick("heading", styles, [4, 2, 1, 1, 1, 3, 1, 0.7, 1])
    if how == "Name_u" and any(" " in c.name or c.unit in ("Volt", "sec") for c in columns):
        how = "Name (u)"
    if sep.strip() == "" and sep != "\t" and how in ("units row", "(units) row", "Name in u", "Name/u", "cells"):
        how = "Name (u)"
    if sep.strip() == "" and sep != "\t":
        names = [c.name.replace(" ", "_") for c in columns]
    else:
        names = [c.name for c in columns]
    draw.traits["heading"] = how
    told = {"Name (u)": "{} ({})", "Name [u]": "{} [{}]", "Name_u": "{}_{}", "Name in u": "{} in {}", "Name/u": "{}/{}",
            "# names": "{} ({})"}.get(how)  # fmt: skip
    quote = style.quoted or draw.chance(0.1)
    if sep.strip() == "" and sep != "\t":
        told = {"{} ({})": "{}({})", "{} [{}]": "{}[{}]"}.get(str(told), told)
    if told is not None:
        cells = [told.format(n, c.unit) if c.unit else n for n, c in zip(names, columns, strict=True)]
        line = sep.join(f'"{cell}"' if quote and how != "# names" else cell for cell in cells)
        return ["# " + line if how == "# names" else line]
    if how == "cells":
        return [sep.join(x for n, c in zip(names, columns, strict=True) for x in (n, c.unit))]
    units = [c.unit if how == "units row" or not c.unit else f"({c.unit})" for c in columns]
    return [sep.join(names), sep.join(units)]


def preamble(draw: Draw, settings: list[tuple[str, str]], style: Style, width: int, n: int) -> list[str]:
    how = draw.pick(
        "preamble",
        ["cells", "key: value", "# key: value", "; key = value", "key\tvalue", "json", "# json", "padded", "%"],
        [4, 2, 2, 0.7, 1, 0.6, 0.5, 1, 0.5],
    )  # fmt: skip
    if not settings and draw.chance(0.4):
        draw.traits["preamble"] = "none"
        return []
    chosen = draw.rng.permutation(len(DECOYS))[: int(draw.rng.integers(0, 12))]
    lines = [*settings, *((key, value.format(n=n)) for key, value in (DECOYS[int(k)] for k in chosen))]
    lines = [lines[int(k)] for k in draw.rng.permutation(len(lines))]
    sep = style.separator if style.separator.strip() or style.separator == "\t" else "  "
    if how in ("json", "# json"):
        text = json.dumps({key.lower().replace(" ", "_"): value for key, value in lines})
        return [("# " if how == "# json" else "") + text]
    if style.decimal == ",":
        lines = [
            (key, value.replace(".", ",") if value[:1].isdigit() and key != "Date" else value) for key, value in lines
        ]
    if style.quoted and style.decimal == "," and how in ("cells", "padded"):
        lines = [(key, f'"{value}"') for key, value in lines]
    forms = {"cells": f"{{}}{sep}{{}}", "key: value": "{}: {}", "# key: value": "# {}: {}",
             "; key = value": "; {} = {}", "key\tvalue": "{}\t{}",
             "padded": f"{{}}{sep}{{}}{sep * max(0, width - 2)}", "%": "% {}: {}"}  # fmt: skip
    written = [forms[how].format(key, value) for key, value in lines]
    if draw.chance(0.4):
        written.append("")
        draw.traits["empty row"] = "True"
    if draw.chance(0.2) and written:
        written.insert(int(draw.rng.integers(len(written))), "")
    return written


def body(draw: Draw, columns: list[Column], style: Style) -> list[str]:
    sep = style.separator
    rows = []
    for cells in zip(*(c.cells for c in columns), strict=True):
        rows.append(sep.join(written(cell, style) for cell in cells))
    return junk_beside(draw, rows, style)


def written(cell: str, style: Style) -> str:
    try:
        float(cell)
    except ValueError:
        return f'"{cell}"' if style.quoted and cell else cell
    return style.cell(cell) if cell.lower().lstrip("+-") not in ("inf", "nan") else cell


def junk_beside(draw: Draw, rows: list[str], style: Style) -> list[str]:
    is_blank = style.separator.strip() == "" and style.separator != "\t"
    how = draw.pick("beside", ["", "trailing separator", "comments", "settings right", "blank lines", "comment lines"],
                    [8, 1.5, 1, 1, 0.5, 0.5])  # fmt: skip
    places = sorted(draw.rng.choice(len(rows) - 2, size=3, replace=False) + 1)
    if how == "trailing separator" and not is_blank:
        return [row + style.separator for row in rows]
    if how == "comments" and not is_blank:
        for place in places:
            rows[place] += style.separator + str(draw.rng.choice(COMMENTS))
    elif how == "settings right" and not is_blank:
        for k in range(min(6, len(rows))):
            rows[k] += style.separator * 2 + style.separator.join(DECOYS[k + 3]).format(n=len(rows))
    elif how == "blank lines":
        for place in reversed(places):
            rows.insert(place, "")
    elif how == "comment lines":
        for place in reversed(places):
            rows.insert(place, "# " + str(draw.rng.choice(COMMENTS)))
    return rows


def tail(draw: Draw, style: Style, width: int) -> list[str]:
    sep, half = style.separator, f"0{style.decimal}5"
    tails: dict[str, list[str]] = {
        "": [],
        "blank lines": ["", "", ""],
        "end mark": ["", "End of data"],
        "statistics": ["", f"Mean{sep}{half}", f"Peak{sep}{half}"],
        "table": ["", sep.join(["Measurement", "Value"]), *(sep.join([f"Rise {k}", half]) for k in range(4))],
        "second table": [
            "",
            sep.join(["Time", "Other"][:width] + ["x"] * (width - 2)),
            *[sep.join([half] * width)] * 6,
        ],
        "nul": ["\0\0\0\0"],
        "eof mark": ["\x1a"],
    }
    return tails[draw.pick("tail", list(tails), [8, 1, 1, 1, 1, 1, 0.5, 0.5])]


def encoded(draw: Draw, lines: list[str], torn: bool) -> bytes:
    end = draw.pick("line end", ["\n", "\r\n", "\r"], [5, 4, 1])
    encoding = draw.pick(
        "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"], [6, 2, 1, 0.5, 0.3, 1]
    )
    text = end.join(lines) + ("" if torn else end)
    try:
        return bytes(text.encode(encoding))
    except UnicodeEncodeError:
        draw.traits["encoding"] = "utf-8"
        return bytes(text.encode("utf-8"))


# --- one case ---------------------------------------------------------------------------------------------------------


def keep_what_can_be_told(draw: Draw, style: Style, width: int) -> None:
    """Drop thousands separators where nothing in the file could tell them from decimal marks or columns."""
    has_decimals = draw.traits["time"] in ("'column'", "'index first'") and draw.traits["channels"][1:4] not in (
        "cou",
        "hex",
    )
    if (style.thousands in (".", ",") and not has_decimals) or (style.thousands == " " and width < 2):
        style.thousands = draw.traits["thousands"] = ""


def layout_of(draw: Draw, n_channels: int) -> str:
    """Return how columns are spread over files; anything but one plain table needs a plain time column."""
    layout = str(draw.pick("layout", ["one", "twins", "files", "value first"], [8, 0.7, 1, 0.4]))
    if draw.traits["time"] != "'column'" or (layout in ("twins", "files") and n_channels < 2):
        layout = "one"
    draw.traits["layout"] = layout
    return layout


def make(seed: int) -> Case:
    """Return the files of one seed and what must be read from them."""
    draw = Draw(seed)
    n = int(draw.rng.integers(60, 500))
    style = number_style(draw)
    time = time_axis(draw, n)
    columns, truths = channels(draw, n)
    keep_what_can_be_told(draw, style, len(columns) + len(time.columns))
    add_markers(draw, columns, truths)
    layout = layout_of(draw, len(columns))
    case = Case(
        t_s=time.t_s, interval_s=time.interval_s, resolution_s=time.resolution_s, channels=truths, traits=draw.traits
    )
    parts = [[*time.columns, *columns]]
    if layout == "twins":
        parts = [[part for c in columns for part in (*time.columns, c)]]
    elif layout == "value first":
        parts = [[*columns, *time.columns]]
    elif layout == "files":
        parts = [[*time.columns, c] for c in columns]
    if draw.chance(0.05):
        for column, truth in zip(columns, truths, strict=True):
            column.name = truth.name = columns[0].name
        draw.traits["duplicate names"] = "True"
    for k, part in enumerate(parts):
        width = len(part)
        lines = [*preamble(draw, time.settings, style, width, n), *heading(draw, part, style), *body(draw, part, style)]
        case.files[f"alder_{k + 1}.csv"] = encoded(draw, [*lines, *tail(draw, style, width)], draw.chance(0.1))
    return case


# --- verdict ----------------------------------------------------------------------------------------------------------


def wrongs(case: Case, captures: Sequence[Capture]) -> list[str]:
    """Return what was read wrongly."""
    if len(captures) != 1:
        return [f"{len(captures)} captures"]
    capture, found = captures[0], []
    n = case.t_s.size
    if capture.t_s.size != n:
        return [f"{capture.t_s.size} samples for {n}"]
    per_sample = max(1e-6 * case.interval_s, 2.5 * case.resolution_s / n)
    if capture.interval_s is None or abs(capture.interval_s - case.interval_s) > per_sample:
        found.append(f"interval {capture.interval_s} for {case.interval_s}")
    shift = capture.t_s[0] - case.t_s[0]
    if abs(shift) > 2 * case.resolution_s + 1e-5 * case.interval_s and abs(case.t_s[0]) < 1e4:
        found.append(f"start {capture.t_s[0]} for {case.t_s[0]}")
    if len(capture.channels) != len(case.channels):
        return [*found, f"channels {[c.name for c in capture.channels]} for {[c.name for c in case.channels]}"]
    for got, truth in zip(capture.channels, case.channels, strict=True):
        if got.unit != truth.unit:
            found.append(f"unit of {truth.name}: {got.unit!r} for {truth.unit!r}")
        bare = truth.name.replace(" ", "_").lower()
        if bare not in got.name.replace(" ", "_").lower():
            found.append(f"name {got.name!r} for {truth.name!r}")
        if not np.allclose(got.values, truth.values, rtol=1e-9, atol=1e-15, equal_nan=True):
            found.append(f"values of {truth.name}: {got.values[:3]} for {truth.values[:3]}")
    return found


def judge(case: Case, folder: Path) -> tuple[str, str]:
    """Return ``read``, ``refused`` or ``wrong``, and the details."""
    paths = [folder / name for name in case.files]
    for path, data in zip(paths, case.files.values(), strict=True):
        path.write_bytes(data)
    assert all(0.0 <= claims(path) <= 1.0 for path in paths)
    try:
        captures = read_captures(paths)
    except FormatError as refusal:
        return "refused", str(refusal).split("\n", 1)[0]
    found = wrongs(case, captures)
    return ("wrong", "; ".join(found)) if found else ("read", "")


def table(n: int, first: int, make: Callable[[int], Any], judge: Callable[[Any, Path], tuple[str, str]]) -> int:
    """Print what became of n files, by trait, and what went wrong; return 1 where any did."""
    tally: Counter[str] = Counter()
    by_trait: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + n):
            case = make(seed)
            verdict, why = judge(case, Path(folder))
            tally[verdict] += 1
            for trait, value in case.traits.items():
                if trait != "seed":
                    by_trait.setdefault(f"{trait} = {value}", Counter())[verdict] += 1
            if verdict != "read":
                print(f"seed {seed}: {verdict}: {why}")
    for trait, counts in sorted(by_trait.items(), key=lambda item: item[1]["read"] / item[1].total()):
        if counts["wrong"] or counts["refused"]:
            print(f"{trait:42} read {counts['read']:5} refused {counts['refused']:4} wrong {counts['wrong']:4}")
    print(dict(tally))
    return 1 if tally["wrong"] else 0


def asked() -> tuple[int, int]:
    """Return how many files the command line asks for, and the first seed."""
    return int(sys.argv[1]) if len(sys.argv) > 1 else 1000, int(sys.argv[2]) if len(sys.argv) > 2 else 0


if __name__ == "__main__":
    sys.exit(table(*asked(), make, judge))
