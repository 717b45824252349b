"""Traits of capture files in any combination, and mutilated files: the truth is read, or FormatError is raised."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feelcheck.errors import FormatError
from feelcheck.formats.scope import claims, read_capture, read_captures

CORPUS: dict[str, Any] = runpy.run_path(str(Path(__file__).parents[1] / "reference" / "capture_styles.py"))
SHARED = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
FACTORS = {"s": 1.0, "ms": 1e-3, "us": 1e-6}
PREAMBLES = (
    "",
    "# a logger\n# Specimen: birch\n\n",
    "Model,none\nRecord Length,150\n\n",
    "; written at the bench\n",
    "Averages : 4\nCoupling : DC\n",
)
NAMINGS = ("Time ({t}){s}Coil (A){s}Out (V)\n", "time_{t}{s}coil_a{s}out_v\n", "Time{s}Coil{s}Out\n{t}{s}A{s}V\n")
TAILS = ("", "\nEnd of data\n", "\n\nMean 0.5\n")


@SHARED
@given(
    separator=st.sampled_from([",", ";", "\t", "|", ", ", " ; "]),
    comma=st.booleans(),
    unit=st.sampled_from(list(FACTORS)),
    preamble=st.sampled_from(PREAMBLES),
    naming=st.sampled_from(NAMINGS),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    trailing=st.booleans(),
    tail=st.sampled_from(TAILS),
    interval_s=st.sampled_from([1e-6, 4e-6, 5e-5, 1e-3]),
    start=st.integers(-100, 100),
)
def test_any_combination_of_traits(tmp_path: Path, **trait: Any) -> None:
    mark = "," if trait["comma"] and "," not in trait["separator"] else "."
    separator = trait["separator"]
    k = np.arange(150)
    t_s = (trait["start"] + k) * trait["interval_s"]
    drive = np.where(k < 40, -1.0, 1.0)
    out = 0.2 + 1.4 * np.clip((k - 50) / 30.0, 0, 1)
    rows = [
        separator.join(cells).replace(".", mark) + (separator if trait["trailing"] else "")
        for cells in zip(
            (f"{t / FACTORS[trait['unit']]:.9e}" for t in t_s),
            (f"{v:+.3f}" for v in drive),
            (f"{v:.5f}" for v in out),
            strict=True,
        )
    ]
    head = trait["naming"].format(t=trait["unit"], s=separator)
    text = trait["preamble"] + head + "\n".join(rows) + "\n" + trait["tail"]
    path = tmp_path / "birch.csv"
    path.write_bytes(text.replace("\n", trait["end"]).encode(trait["encoding"]))
    capture = read_capture(path)
    assert [(c.unit, c.role) for c in capture.channels] == [("A", "drive"), ("V", "output")]
    assert capture.interval_s == pytest.approx(trait["interval_s"], rel=1e-6)
    np.testing.assert_allclose(capture.t_s, t_s, atol=1e-6 * trait["interval_s"] + 1e-9 * np.abs(t_s).max())
    np.testing.assert_allclose(capture.channel(capture.channels[1].name).values, out, atol=1e-5)
    np.testing.assert_allclose(capture.channels[0].values, drive, atol=1e-5)


def mutilate(data: bytes, cuts: list[tuple[int, int, int, bytes]]) -> bytes:
    """Return data with stretches deleted, doubled, overwritten or cut off."""
    for how, place, length, filler in cuts:
        if not data:
            return data
        start = place % len(data)
        stop = min(len(data), start + length)
        data = {
            0: data[:start] + data[stop:],
            1: data[:start],
            2: data[:start] + filler + data[start:],
            3: data[start:],
            4: data[:start] + data[start:stop] * 3 + data[stop:],
            5: data[:start] + filler + data[stop:],
        }[how]
    return data


@SHARED
@given(
    which=st.integers(0, 10_000),
    cuts=st.lists(
        st.tuples(st.integers(0, 5), st.integers(0, 30_000), st.integers(0, 300), st.binary(min_size=1, max_size=12)),
        min_size=1,
        max_size=4,
    ),
)
def test_a_mutilated_file_gives_a_sound_capture_or_a_clear_error(
    tmp_path: Path, which: int, cuts: list[tuple[int, int, int, bytes]]
) -> None:
    item = CORPUS["STYLES"][which % len(CORPUS["STYLES"])]
    path = tmp_path / "birch.csv"
    path.write_bytes(mutilate(next(iter(item.files.values())), cuts))
    assert 0.0 <= claims(path) <= 1.0
    try:
        captures = read_captures(path)
    except FormatError:
        return
    for capture in captures:
        assert np.all(np.diff(capture.t_s) > 0)
        assert np.all(np.isfinite(capture.t_s))
        assert all(channel.values.shape == capture.t_s.shape for channel in capture.channels)
