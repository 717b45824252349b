"""Reading a capture of millions of samples against pandas' C reader on the same file, in one run."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from feelcheck.formats.scope import read_capture


@pytest.mark.parametrize("n", [200_000, 4_000_000])
def test_a_big_capture_costs_twice_pandas_and_a_second_at_most(tmp_path: Path, n: int) -> None:
    path = tmp_path / "alder.csv"
    t_s = np.arange(n) * 1e-6 - 0.5
    volts = np.round(np.random.default_rng(1).normal(size=(n, 2)), 4)
    frame = pd.DataFrame({"Time (s)": t_s, "CH1 (V)": volts[:, 0], "CH2 (V)": volts[:, 1]})
    frame.to_csv(path, index=False, float_format="%.7g")
    best = [np.inf, np.inf]
    for _ in range(3):
        start = time.process_time()
        pd.read_csv(path)
        between = time.process_time()
        read_capture(path)
        best = [min(best[0], between - start), min(best[1], time.process_time() - between)]
    plain, ours = best
    print(f"{n} rows: pandas {plain:.3f} s, capture {ours:.3f} s, ratio {ours / plain:.2f}")
    assert ours <= 2.0 * plain + 1.0
