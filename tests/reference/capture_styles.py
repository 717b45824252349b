# ruff: noqa: E501
"""Every style of capture file that the reader is held to: generated text with known truth, and the table of results.

Run it: ``python tests/reference/capture_styles.py`` prints which styles are read and which are refused.

The styles come from knowledge of how scopes, data loggers and microcontroller loggers export in general (common
practice, no source). Each is written from one simulated bench: a drive current that reverses and a sensor's volts that
follow, sampled every 50 us from -4 ms.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats.scope import read_captures
from feelcheck.model.bench import Capture

N = 400
DT_S = 50e-6
T0_S = -4e-3
T = T0_S + DT_S * np.arange(N)
DRIVE_A = np.where(T < 0, -1.0, 1.0 - 2.0 * np.exp(-np.maximum(T, 0) / 1e-3))
OUT_V = np.where(T < 0, 0.2, 0.2 + 1.4 * (1.0 - np.exp(-np.maximum(T, 0) / 4.7e-3)))
OUT_COUNTS = np.rint(OUT_V * 1000)
Column = tuple[str, NDArray[Any], float]


@dataclass(frozen=True, kw_only=True)
class Style:
    """One way to write a capture: files, what must be read from them, or how the refusal must begin."""

    name: str
    files: dict[str, bytes]
    channels: tuple[Column, ...] = ()
    t0_s: float | None = T0_S
    interval_s: float | None = DT_S
    n: int = N
    refused: str = ""
    options: dict[str, Any] = field(default_factory=dict)
    roles: tuple[str, ...] = ()


STYLES: list[Style] = []
V1: tuple[Column, ...] = (("V", OUT_V, 1e-3),)
DRIVE_AND_OUT: tuple[Column, ...] = (("A", DRIVE_A, 1e-3), ("V", OUT_V, 1e-3))
TWO_V: tuple[Column, ...] = (("V", DRIVE_A, 1e-3), ("V", OUT_V, 1e-3))
BARE: tuple[Column, ...] = (("", DRIVE_A, 1e-3), ("", OUT_V, 1e-3))


def table(
    columns: Sequence[NDArray[Any]],
    formats: Sequence[str] | str = "%.6e",
    separator: str = ",",
    *,
    decimal: str = ".",
    end: str = "\n",
    before: str = "",
    after: str = "",
) -> str:
    """Return rows of numbers."""
    formats = [formats] * len(columns) if isinstance(formats, str) else list(formats)
    lines = []
    for row in zip(*columns, strict=True):
        cells = [(form % value).replace(".", decimal) for form, value in zip(formats, row, strict=True)]
        lines.append(before + separator.join(cells) + after)
    return end.join(lines) + end


def style(name: str, text: str | bytes, channels: tuple[Column, ...] = V1, **more: Any) -> None:
    """Add a style that is one file."""
    data = text if isinstance(text, bytes) else text.encode("utf-8")
    STYLES.append(Style(name=name, files={"alder.csv": data}, channels=channels, **more))


def refused(name: str, text: str | bytes, sentence: str, **more: Any) -> None:
    """Add a style that must be refused."""
    style(name, text, (), refused=sentence, **more)


TWO = table([T, DRIVE_A, OUT_V])
ONE = table([T, OUT_V])
VALUES = table([OUT_V])
HEAD = "Time (s),Coil current (A),Sensor out (V)\n"

# --- plain tables: names, units, separators, decimal marks ----------------------------------------------------------
style("names and units in brackets", HEAD + TWO, DRIVE_AND_OUT, roles=("drive", "output"))
style("square brackets", "Time [s],Coil [A],Out [V]\n" + TWO, DRIVE_AND_OUT, roles=("drive", "output"))
style("units row", "Time,CH1,CH2\ns,V,V\n" + TWO, TWO_V)
style("units row in brackets, then an empty row", "Time,Channel 1,Channel 2\n(s),(V),(V)\n\n" + TWO, TWO_V)
style("units row written out", "x-axis,1,2\nsecond,Volt,Volt\n" + table([T, DRIVE_A, OUT_V], "%+.6E"), TWO_V)
style("units row empty", "Time,CH1,CH2\n,,\n" + TWO, BARE)
style("unit inside the name", "in s,C1 in V,C2 in V\n" + TWO, TWO_V)
style("unit as suffix", "timestamp_ms,coil_a,out_v\n" + table([T * 1e3, DRIVE_A, OUT_V], "%.5f"), DRIVE_AND_OUT)
style("unit glued to the channel", "Time(s),CH1V,CH2V\n" + TWO, TWO_V)
style("unit behind a slash", "t/ms;U/V\n" + table([T * 1e3, OUT_V], "%.5f", ";"))
style("unit behind a comma", "Time, s;Output, V\n" + table([T, OUT_V], "%.6e", ";"))
style("column named by its unit", "Second,Volt\n" + ONE)
style("quoted names", '"Time (s)","Channel 1 (V)"\n' + ONE)
style("no names at all", TWO, BARE)
style("names, no units", "Time,Drive,Out\n" + TWO, BARE, roles=("drive", "output"))
style("millivolts and milliseconds", "t (ms),Out (mV)\n" + table([T * 1e3, OUT_V * 1e3], "%.4f"))
style("microseconds as whole numbers", "time_us,out_v\n" + table([T * 1e6, OUT_V], ["%d", "%.4f"]))
style(
    "micro sign in latin-1",
    ("Zeit (µs);Ausgang (V)\n" + table([T * 1e6, OUT_V], "%.4f", ";", decimal=",")).encode("cp1252"),
)
style("micro sign broken on the way", "Time (Âµs),Out (V)\n" + table([T * 1e6, OUT_V], "%.4f"))
style("millitesla and gauss", "Time (s),Field (mT),Field 2 (G)\n" + table([T, DRIVE_A * 30, DRIVE_A * 300], "%.6f"),
      (("mT", DRIVE_A * 30, 1e-3), ("mT", DRIVE_A * 30, 1e-3)))  # fmt: skip
style("semicolon and decimal comma", "Zeit in s;Ausgang in V\n" + table([T, OUT_V], "%.6f", ";", decimal=","))
style("semicolon and point", "Time (s);Out (V)\n" + table([T, OUT_V], "%.6f", ";"))
style("tab and decimal comma", "Tid (s)\tUt (V)\n" + table([T, OUT_V], "%.6f", "\t", decimal=","))
style("tab", "Time (s)\tOut (V)\n" + table([T, OUT_V], "%.6f", "\t"))
style("comma and blank", "Time (s), Out (V)\n" + table([T, OUT_V], "%.6f", ", "))
style("blank semicolon blank", "Time (s) ; Out (V)\n" + table([T, OUT_V], "%.6f", " ; "))
style("bar", "Time (s)|Out (V)\n" + table([T, OUT_V], "%.6f", "|"))
style(
    "bars all round", "| Time (s) | Out (V) |\n|---|---|\n" + table([T, OUT_V], "%.6f", " | ", before="| ", after=" |")
)
style("padded columns of blanks", "      Time (s)      Out (V)\n" + table([T, OUT_V], "%14.6f", " "))
style("blanks and decimal comma", "Time_s  Out_V\n" + table([T, OUT_V], "%.6f", "  ", decimal=","))
style("quoted decimal commas between commas", '"Time (s)","Out (V)"\n' + table([T, OUT_V], '"%.6f"', ",", decimal=","))
style(
    "quoted decimal commas between commas and tabs",
    '"n",\t"Time (s)",\t"Sensor out (V)"\n'
    + table([np.arange(N), T, OUT_V], ['"%d"', '"%.6f"', '"%.6f"'], ",\t", decimal=","),
)
style(
    "nameless counter, columns by blanks",
    "   Strom(A)  A0(V)\n" + table([np.arange(N), DRIVE_A, OUT_V], ["%d", "%.8e", "%.8e"], "  ", decimal=","),
    DRIVE_AND_OUT,
    t0_s=0.0,
    options={"interval_s": DT_S},
)
style(
    "nameless counter with plus signs",
    "  A0(V)\n" + table([np.arange(N), OUT_V], ["%+d", "%+.8e"], "  "),
    t0_s=0.0,
    options={"interval_s": DT_S},
)
style(
    "quoted row names, columns by blanks",
    '"t_s" "out_v"\n' + table([np.arange(N) + 1, T, OUT_V], ['"%d"', "%.6f", "%.6f"], " "),
)
style("quoted numbers", '"Time (s)","Out (V)"\n' + table([T, OUT_V], '"%.6f"'))
style("trailing commas", "Time (s),Out (V),\n" + table([T, OUT_V], after=",,,"))
style("header wider than the data", "Time (s),Out (V),Math (V),,,\n" + ONE)
style(
    "header narrower than the data",
    "Time (s),CH1 (V)\n" + table([T, DRIVE_A, OUT_V]),
    (("V", DRIVE_A, 1e-3), ("", OUT_V, 1e-3)),
)
style("leading zeros and plus signs", "Time (s),Out (V)\n" + table([T, OUT_V], ["%+012.6f", "%+09.4f"]))
style("blank after the sign", "Time (s),Out (V)\n" + ONE.replace("-", "- ").replace("e- ", "e-"))
style(
    "float32 noise",
    "Time (s),Out (V)\n" + table([T.astype(np.float32).astype(float), OUT_V.astype(np.float32).astype(float)], "%.17g"),
)
style("double spacing", "Time (s),Out (V)\n\n" + table([T, OUT_V], end="\n\n"))
style("unit behind every number", table([T * 1e3, OUT_V], ["%.3f ms", "%.4f V"], ";"))
style("label before every number", table([T, OUT_V], ["t_s:%.6f", "out_v:%.4f"]))
style("value column before the time", "Out (V),Time (s)\n" + table([OUT_V, T]))
style("rows run backwards", "Time (s),Out (V)\n" + table([T[::-1], OUT_V[::-1]]))

# --- encodings -----------------------------------------------------------------------------------------------------
for code, bom in (
    ("utf-8", "\ufeff"),
    ("utf-16-le", "\ufeff"),
    ("utf-16-be", "\ufeff"),
    ("utf-16-le", ""),
    ("utf-16-be", ""),
):
    style(
        f"{code}{' with mark' if bom else ''}",
        (bom + "Time (µs),Out (V)\n" + table([T * 1e6, OUT_V], "%.3f")).encode(code),
    )
style("CRLF", (HEAD + TWO).replace("\n", "\r\n"), DRIVE_AND_OUT)
style("CR only", (HEAD + TWO).replace("\n", "\r"), DRIVE_AND_OUT)

# --- preambles -----------------------------------------------------------------------------------------------------
KEYED = "Model,none\nFirmware,1.2\n\nSample Interval,5E-05\nRecord Length,400\nVertical Units,V\nProbe Attenuation,10\n"
style("keyed lines, empty row inside", KEYED + "\nTIME,CH1\n" + ONE)
style("hash comments", "# logger 3\n# Sample rate: 20000Hz\n# Samples: 400\n#\nTime (s),Channel 1 (V)\n" + ONE)
style("names in a comment", "# bench log\n# t_s, out_v\n" + ONE)
style(
    "semicolon comments",
    "; written by a logger\n; Samplerate: 20 kHz\nTime;Out\ns;V\n" + table([T, OUT_V], "%.6f", ";"),
)
style("percent comments", "% run 7\n% Time (s) Out (V)\n" + table([T, OUT_V], "%.6f", " "))
style(
    "padded names with colons",
    "Unit          : V\nTime base     : 5.0ms/div\nSampling rate : 20.0 kSa/s\n\nTime(s)  CH1(V)\n"
    + table([T, OUT_V], "%12.6f", " "),
)
style(
    "key:value in cells",
    "Vertical Units,CH1:V,CH2:V\nRecord Length,Analog:400\nSource,CH1,CH2\nSecond,Volt,Volt\n" + TWO,
    TWO_V,
)
style("long preamble", "".join(f"Setting {k},{k * 3}\n" for k in range(300)) + "Time (s),Out (V)\n" + ONE)
style(
    "pairs along a line",
    "Segments,1,SegmentSize,400\nSegment,TrigTime,TimeSinceSegment1\n#1,01-Mar-2026 10:00:00,0\nTime,Ampl\n" + ONE,
    (("", OUT_V, 1e-3),),
)
left = [
    ("Record Length", "400"),
    ("Sample Interval", "5e-05"),
    ("Source", "CH1"),
    ("Vertical Units", "V"),
    ("Horizontal Units", "s"),
]
style("settings left of the data", "".join(
    (f"{left[k][0]},{left[k][1]},," if k < len(left) else ",,,") + f"{T[k]:.8f},{OUT_V[k]:10.5f},\n" for k in range(N)))  # fmt: skip
style("settings right of the data", "Time (s),Out (V)\n" + "".join(
    f"{T[k]:.8f},{OUT_V[k]:.5f}" + (f",,{left[k][0]},{left[k][1]}" if k < len(left) else "") + "\n" for k in range(N)))  # fmt: skip
style("settings left of named columns", "Length,400,Time (s),Out (V)\n" + "".join(
    (f"{left[k][0]},{left[k][1]}," if k < len(left) else ",,") + f"{T[k]:.8f},{OUT_V[k]:.5f}\n" for k in range(N)))  # fmt: skip

# --- no time column -------------------------------------------------------------------------------------------------
COUNT = np.arange(N, dtype=float)
style("start and increment in the header rows", "X,CH1,CH2,Start,Increment,\nSequence,VOLT,VOLT,-4.0e-03,5.0e-05\n"
      + table([COUNT, DRIVE_A, OUT_V], ["%d", "%.4e", "%.4e"], after=",,,"), TWO_V)  # fmt: skip
style(
    "start and increment in name cells",
    "CH1V,CH2V,t0 =-4.0e-03, tInc = 5.0e-05\n" + table([DRIVE_A, OUT_V], after=",,"),
    TWO_V,
)
style("sampling period in the preamble", "Memory Length,400\nSource,CH1\nVertical Units,V\nHorizontal Units,S\nSampling Period,5.0E-05\nWaveform Data,\n"
      + table([OUT_COUNTS / 10], "%d", after=","), (("counts", np.trunc(OUT_COUNTS / 10), 0.5),), t0_s=0.0)  # fmt: skip
style("resolution and offset in the preamble", '"HeaderSize",9\n"TraceName","CH1","CH2"\n"BlockSize",400\n"VUnit","V","V"\n"HResolution",5.0E-05\n"HOffset",-4.0E-03\n"HUnit","s"\n"Date","2026/03/01"\n"Time","10:20:30"\n\n'
      + table([DRIVE_A, OUT_V], before=","), TWO_V)  # fmt: skip
style("delta and zero, empty time column", "Samples\t400\t400\nX0\t-4E-3\t-4E-3\nDelta_X\t5E-5\t5E-5\n***End_of_Header***\nX_Value\tDrive\tOut\tComment\n"
      + table([DRIVE_A, OUT_V], "%.5f", "\t", decimal=",", before="\t"), BARE)  # fmt: skip
style("clock period in comments", "#CHANNEL:CH1\n#CLOCK=50.0uS\n#SIZE=400\n#UNITS:V\n" + VALUES, t0_s=0.0)
style("sample rate with prefix", "Sampling frequency: 0.02 MHz\nOut (V)\n" + VALUES, t0_s=0.0)
style("sample rate in the key", "sampling_rate_hz,20000\n\nout_v\n" + VALUES, t0_s=0.0)
style(
    "counter and sample rate",
    "Sample rate: 20 kHz\nIndex    CH1_Voltage(mV)\n" + table([COUNT, OUT_V * 1e3], ["%d", "%.2f"], "     "),
    t0_s=0.0,
)
style(
    "so many points for a time",
    "TIME STEP:\n100 = 5ms\nVOLTAGE STEP:\nCH1: 32 = 0.3V\n\nN CH1\n" + table([COUNT, OUT_COUNTS], "%d", " "),
    (("counts", OUT_COUNTS, 0.5),),
    t0_s=0.0,
)
style("points per division", "Points per division,100\nTime per division,5 ms\nOut (V)\n" + VALUES, t0_s=0.0)
style("keys above their values", "Format,Points,Xincrement,Xorigin\nASCII,400,5.0E-05,-4.0E-03\nOut (V)\n" + VALUES)
style("the user's interval", "Out (V)\n" + VALUES, t0_s=0.0, options={"interval_s": DT_S})
style("intervals instead of times", "dt_us,out_v\n" + table([np.full(N, 50.0), OUT_V], ["%.1f", "%.4f"]), t0_s=0.0)

# --- time columns that need care ------------------------------------------------------------------------------------
style("counter before the time", "Index,Time (s),Out (V)\n" + table([COUNT, T, OUT_V], ["%d", "%.6e", "%.4f"]))
style("unnamed counter before the time", "Time (s),Out (V)\n" + table([COUNT, T, OUT_V], ["%d", "%.6e", "%.4f"]))
style(
    "rounded time with a header interval",
    "Sample Interval,5E-05\nTime (s),Out (V)\n" + table([T, OUT_V], ["%.3f", "%.4f"]),
    t0_s=None,
)
style("rounded time without a header interval", "Time (s),Out (V)\n" + table([T, OUT_V], ["%.4f", "%.4f"]), t0_s=None)
style("time cut to three digits", "Time (s),Out (V)\n" + table([T, OUT_V], ["%.2e", "%.4f"]), t0_s=None)
style("one time column per channel", "t1 (s),CH1 (V),t2 (s),CH2 (V)\n" + table([T, DRIVE_A, T, OUT_V]), TWO_V)
style("one unnamed time column per channel", table([T, DRIVE_A, T, OUT_V]), BARE)
style("time columns half a sample apart", "t1 (s),CH1 (V),t2 (s),CH2 (V)\n" + table([T, DRIVE_A, T + DT_S / 2, OUT_V]),
      (("V", DRIVE_A, 1e-3), ("V", np.interp(T, T + DT_S / 2, OUT_V, left=np.nan), 1e-3)))  # fmt: skip
style(
    "clock times",
    "Clock,Out (V)\n" + "".join(f"10:00:{1 + k * DT_S:010.7f},{v:.4f}\n" for k, v in enumerate(OUT_V)),
    t0_s=None,
)
style(
    "dates and clock times",
    "Timestamp;Out (V)\n" + "".join(f"2026-03-01 10:00:{k * DT_S:09.6f};{v:.4f}\n" for k, v in enumerate(OUT_V)),
    t0_s=None,
)
style(
    "clock times of a serial terminal",
    "".join(f"10:00:{k * 1e-3:06.3f} -> {v:.0f}\n" for k, v in enumerate(OUT_COUNTS)),
    (("counts", OUT_COUNTS, 0.5),),
    t0_s=None,
    interval_s=1e-3,
)
style(
    "unit told by the stated interval",
    "Sample interval: 50 us\nTime,Out\n" + table([COUNT * 50, OUT_V], ["%d", "%.4f"]),
    (("", OUT_V, 1e-3),),
    t0_s=0.0,
)
style(
    "the user's column and unit",
    "when,Out (V)\n" + table([COUNT * 50, OUT_V], ["%d", "%.4f"]),
    t0_s=0.0,
    options={"time": "when", "time_unit": "us"},
)
style("time restarts in a second part", "Time (s),Out (V)\n" + ONE + table([T[:100], OUT_V[:100]]))

style("milliseconds beside whole clock seconds", "NO.,Time,ms,Out\n,,,V\n" + "".join(
    f"{k + 1},10:00:{k // 100:02d},{k % 100 * 10},{v:.4f}\n" for k, v in enumerate(OUT_V)), t0_s=None, interval_s=0.01)  # fmt: skip
style("dates with a stated interval", "waveform\t[0]\nt0\t01.03.2026 10:00:00,000\ndelta t\t5,000000E-5\n\ntime\tOut (V)\n" + "".join(
    f"01.03.2026 10:00:{k * DT_S:06.3f}\t{v:.4f}\n".replace(".0", ",0", 0) for k, v in enumerate(OUT_V)).replace("10:00:00.", "10:00:00,").replace("\t0.", "\t0,").replace("\t1.", "\t1,"), t0_s=None)  # fmt: skip
style(
    "stated interval behind a channel's name",
    "Record Length,Analog:400\nSample Interval,Analog:0.00005\nSource,CH1\nSecond,Volt\n"
    + table([T, OUT_V], ["%.3f", "%.4f"]),
    t0_s=None,
)
style(
    "unnamed counter, counts, time, volts",
    "Timebase : 1ms\n" + table([COUNT, OUT_COUNTS, T - T0_S, OUT_V], ["%05d", "%05d", "%08.5f", "%+.4f"], "  "),
    (("counts", OUT_COUNTS, 0.5), ("", OUT_V, 1e-3)),
    t0_s=0.0,
)
style("exported with a row index", ",t_s,out_v\n" + table([COUNT, T, OUT_V], ["%d", "%.6f", "%.4f"]))
style("seconds since 1970", "timestamp_s,out_v\n" + table([1.7e9 + T, OUT_V], ["%.6f", "%.4f"]), t0_s=0.0)
style("named millis", "millis,out_v\n" + table([COUNT * 2, OUT_V], ["%d", "%.4f"]), t0_s=0.0, interval_s=2e-3)
style("separator line of a spreadsheet", "sep=;\nTime (s);Out (V)\n" + table([T, OUT_V], "%.6f", ";", decimal=","))
style("settings left, decimal comma", "".join(
    ((f"{left[k][0]};{left[k][1]};;" if k < len(left) else ";;;") + f"{T[k]:.8f};{OUT_V[k]:.5f};\n").replace(".", ",") for k in range(N)))  # fmt: skip
style("typographic minus", "Time (s);Out (V)\n" + table([T, OUT_V], "%.6f", ";").replace("-", "\u2212"))
style("unit in a column of its own", "Time (s),Out,Unit\n" + table([T, OUT_V], after=",V"), (("", OUT_V, 1e-3),))

style(
    "unit told by the time per division",
    "Horizontal Scale: 2 ms\nTime,Out\n" + table([T * 1e3, OUT_V], "%.4f"),
    (("", OUT_V, 1e-3),),
)
style("units above the names", "s,A,V\nTime,Coil,Out\n" + TWO, DRIVE_AND_OUT, roles=("drive", "output"))
style(
    "a row of kinds between names and units",
    "Time,Coil,Out\nAnalog,Analog,Analog\ns,A,V\n" + TWO,
    DRIVE_AND_OUT,
    roles=("drive", "output"),
)
style(
    "nanoseconds since 1970",
    "timestamp_ns,out_v\n"
    + "".join(f"{1_700_000_000_000_000_000 + 50_000 * k},{v:.4f}\n" for k, v in enumerate(OUT_V)),
    t0_s=0.0,
)
style(
    "names that could be units",
    "Sample,Time[us],ADC\n" + table([COUNT, T * 1e6, OUT_COUNTS], "%d"),
    (("counts", OUT_COUNTS, 0.5),),
)
style("settings of two channels side by side", "Memory Length,400,Memory Length,400,\nSource,CH1,Source,CH2,\nVertical Units,V,Vertical Units,V,\nHorizontal Units,S,Horizontal Units,S,\nSampling Period,5E-05,Sampling Period,5E-05,\nWaveform Data,,Waveform Data,,\n"
      + "".join(f"{a:.4f},,{b:.4f},,\n" for a, b in zip(DRIVE_A, OUT_V, strict=True)), TWO_V, t0_s=0.0)  # fmt: skip
style(
    "a second set of numbers in front",
    "".join(f"{k},{2 * k},{3 * k}\n" for k in range(10)) + "\nTime (s),Out (V)\n" + ONE,
)

# --- gaps, markers, notes, tails ------------------------------------------------------------------------------------
LATE = np.where(np.arange(N) < 20, np.nan, OUT_V)
OVER = np.where(OUT_V > 1.55, np.nan, OUT_V)
style(
    "blank before acquisition starts",
    HEAD + table([T, DRIVE_A, LATE]).replace("nan", ""),
    (("A", DRIVE_A, 1e-3), ("V", LATE, 1e-3)),
)
for mark in ("∞", "inf", "+9.9E+37", "----", "OVER", "Overload", "-∞"):
    style(f"over range as {mark}", "Time (s),Out (V)\n" + table([T, OVER]).replace("nan", mark), (("V", OVER, 1e-3),))
style("raw converter counts", "time_us,raw\n" + table([T * 1e6, OUT_COUNTS], "%d"), (("counts", OUT_COUNTS, 0.5),))
style(
    "raw counts without a name",
    "Time (s),CH1\n" + table([T, OUT_COUNTS], ["%.6f", "%d"]),
    (("counts", OUT_COUNTS, 0.5),),
)
style("note in a cell beside", "Time (s),Out (V)\n" + ONE.replace("\n", ",coil switched here\n", 1))
noted = ONE.split("\n")
noted[50] = noted[50] + " (touched)"
style(
    "note inside a cell",
    "Time (s),Out (V)\n" + "\n".join(noted),
    (("V", np.where(np.arange(N) == 50, np.nan, OUT_V), 1e-3),),
)
style(
    "second table behind",
    "Time (s),Out (V)\n" + ONE + "\nFrequency (Hz),Level (dB)\n" + table([np.arange(50.0), np.arange(50.0)]),
)
style("statistics behind", "Time (s),Out (V)\n" + ONE + "\nMean,0.9\nMax,1.6\nEnd of data\n")
style("torn last line", ("Time (s),Out (V)\n" + ONE)[:-14] + "\n", (("V", OUT_V[:-1], 1e-3),), n=N - 1)
style(
    "typed table of readings",
    "t (ms),Out (V)\n" + table([T[::40] * 1e3, OUT_V[::40]], "%.3g"),
    (("V", OUT_V[::40], 6e-3),),
    n=10,
    interval_s=DT_S * 40,
)
STYLES.append(Style(name="two files, one channel each", channels=TWO_V, files={
    "birch_ch1.csv": ("Time (s),CH1 (V)\n" + table([T, DRIVE_A])).encode(), "birch_ch2.csv": ("Time (s),CH2 (V)\n" + ONE).encode()}))  # fmt: skip
STYLES.append(Style(name="two files, the same name in both", channels=TWO_V, files={
    "birch_1.csv": ("Second,Volt\n" + table([T, DRIVE_A])).encode(), "birch_2.csv": ("Second,Volt\n" + ONE).encode()}))  # fmt: skip

# --- what must be refused -------------------------------------------------------------------------------------------
refused(
    "time destroyed by rounding",
    "Time (s),Out (V)\n" + table([T, OUT_V], ["%.2f", "%.4f"]),
    "The time axis was destroyed",
)
refused(
    "time destroyed by a spreadsheet",
    "Time (s),Out (V)\n" + "".join(f"00:00.0,{v:.4f}\n" for v in OUT_V),
    "The time axis was destroyed",
)
refused(
    "frequency axis",
    "Frequency (Hz),Level (dB)\n" + table([np.arange(N) * 10.0, OUT_V]),
    "A response needs a time axis",
)
refused(
    "frequency axis in kilohertz",
    "kHz,CH1 (dBV)\n" + table([np.arange(N) * 0.1, OUT_V]),
    "A response needs a time axis",
)
refused(
    "one capture per row",
    "Time,"
    + ",".join(f"{t:.6f}" for t in T)
    + "\nrun 1,"
    + ",".join(f"{v:.4f}" for v in OUT_V)
    + "\nrun 2,"
    + ",".join(f"{v:.4f}" for v in OUT_V)
    + "\n",
    "A capture needs one sample a row",
)
refused("no column that varies", "Time (s),Out (V)\n" + table([T, np.ones(N)]), "A capture needs a column that varies")
refused("no time and no interval", "CH1 (V),CH2 (V)\n" + table([DRIVE_A, OUT_V]), "A capture needs a time axis")
refused(
    "measured frequency is no sample rate",
    "Frequency,F=1.000kHz\nPeriod,T=1.000ms\nPK-PK,1.4V\nCH1 (V)\n" + VALUES,
    "A capture needs a time axis",
)
refused(
    "counter and no interval", "Index,CH1 (V)\n" + table([COUNT, OUT_V], ["%d", "%.4f"]), "A capture needs a time axis"
)
refused(
    "unit of time unknown",
    "Time,CH1 (V)\n" + table([COUNT * 50, OUT_V], ["%d", "%.4f"]),
    "The unit of the time column cannot be told",
)
refused(
    "decimal commas between commas",
    "Time (s),Out (V)\n" + table([np.abs(T), OUT_V], "%.6f", ",", decimal=","),
    "Numbers with a decimal comma",
)
refused(
    "prose",
    "The bench was switched on.\nThen the coil was reversed, twice.\nNothing was measured in 2026.\n" * 30,
    "A capture",
)
refused("settings only", KEYED, "A capture")
refused("a spreadsheet workbook", b"PK\x03\x04" + b"\0" * 200, "A log or capture must be")
refused("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "A log or capture must be")
refused("binary samples", np.arange(2000, dtype="<i2").tobytes(), "A log or capture must be")
refused("nothing", b"", "The file is empty")
refused("a web page", "<html><body><p>Login</p></body></html>\n" * 20, "A capture")
shuffled = np.random.default_rng(3).permutation(N)
refused("shuffled times", "Time (s),Out (V)\n" + table([T[shuffled], OUT_V[shuffled]]), "Time must run forward")


def read_style(item: Style, folder: Path) -> tuple[Capture, ...]:
    """Write a style's files and read them back."""
    paths = []
    for name, data in item.files.items():
        path = folder / name
        path.write_bytes(data)
        paths.append(path)
    return read_captures(paths, **item.options)


def mismatch(item: Style, captures: tuple[Capture, ...]) -> str:
    """Return what is wrong with a capture, empty if it holds the truth."""
    if len(captures) != 1:
        return f"{len(captures)} captures"
    capture = captures[0]
    checks: list[tuple[bool, Callable[[], str]]] = [
        (capture.t_s.size == item.n, lambda: f"{capture.t_s.size} samples"),
        (len(capture.channels) == len(item.channels), lambda: str([(c.name, c.unit) for c in capture.channels])),
    ]
    for is_good, what in checks:
        if not is_good:
            return what()
    interval = capture.interval_s or 0.0
    if item.interval_s is not None and not abs(interval / item.interval_s - 1.0) < 2e-3:
        return f"interval {capture.interval_s}"
    if item.t0_s is not None and abs(capture.t_s[0] - item.t0_s) > 1e-3 * DT_S:
        return f"start {capture.t_s[0]}"
    if not np.all(np.diff(capture.t_s) > 0):
        return "times do not rise"
    for channel, (unit, values, tolerance) in zip(capture.channels, item.channels, strict=True):
        if channel.unit != unit:
            return f"{channel.name} in {channel.unit!r}"
        if not np.allclose(channel.values, values, rtol=0, atol=tolerance, equal_nan=True):
            return f"{channel.name} differs by {np.nanmax(np.abs(channel.values - values))}"
    roles = tuple(channel.role for channel in capture.channels)
    return f"roles {roles}" if item.roles and roles != item.roles else ""


def outcome(item: Style, folder: Path) -> tuple[bool, str]:
    """Return whether a style is dealt with as it must be, and in words how."""
    try:
        captures = read_style(item, folder)
    except FormatError as problem:
        good = bool(item.refused) and problem.sentence.startswith(item.refused)
        return good, f"refused: {problem.sentence}"
    if item.refused:
        return False, "read, but must be refused"
    wrong = mismatch(item, captures)
    if wrong:
        return False, f"WRONG: {wrong}"
    told = captures[0].understood
    return True, f"read: {told.get('time', '')}; {told.get('interval', '')} from {told.get('interval from', '')}"


def main() -> int:
    """Print the table of styles; return the number that is not dealt with as it must be."""
    n_bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for item in STYLES:
            good, words = outcome(item, Path(folder))
            n_bad += not good
            sys.stdout.write(f"{'ok ' if good else 'BAD'} {item.name:44s} {words}\n")
    n_refused = sum(bool(item.refused) for item in STYLES)
    sys.stdout.write(f"{len(STYLES)} styles: {len(STYLES) - n_refused} to read, {n_refused} to refuse, {n_bad} wrong\n")
    return min(n_bad, 1)


if __name__ == "__main__":
    sys.exit(main())
