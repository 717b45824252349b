"""Captures are told from logs in one way, by compare, survey, read and records alike."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from feelcheck.pipeline._captures import looks_captured
from feelcheck.pipeline._survey import kind_of_file

T_MS = np.arange(400.0) * 4.0
SIDE = np.rint(2000 * np.sin(T_MS / 90)).astype(int)
LISTING = "".join(
    f"Event: time {t / 1e3:.6f}, type 3 (EV_ABS), code 0 (ABS_X), value {v}\n" for t, v in zip(T_MS, SIDE, strict=True)
)
MESSAGES = pd.DataFrame({"%time": (1.7e18 + T_MS * 1e6).astype(int), "field.axes0": SIDE / 2e3})
TWICE = pd.DataFrame({"t_ms": T_MS / 100, "coil": (SIDE > 0) * 1.0, "out": SIDE, "out.1": SIDE})


@pytest.mark.parametrize(
    ("text", "captured"),
    [
        (LISTING, False),
        (MESSAGES.to_csv(index=False), False),
        (TWICE.to_csv(index=False), True),
        (pd.DataFrame({"time_s": T_MS / 1e3, "a": SIDE, "b": SIDE[::-1]}).to_csv(index=False), False),
        (pd.DataFrame({"time (us)": T_MS * 10, "coil (A)": (SIDE > 0) * 1.0, "out (V)": SIDE / 1e3}).to_csv(), True),
        (pd.DataFrame({"t": T_MS * 1e-6, "a": SIDE}).to_csv(index=False), True),
    ],
    ids=["events", "messages", "twice", "table", "scope", "fast"],
)
def test_kinds(text: str, captured: bool, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    assert looks_captured(path) is captured
    assert kind_of_file(path) == ("capture" if captured else "log")
    assert not looks_captured(tmp_path)
