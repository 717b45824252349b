"""Gauge repeatability and reproducibility against published worked examples.

Sources: AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III sect. B, data and results through public
copies; the example of the R package qualityTools (gageRR); range constants as in the file's header. The rows
to six places were recomputed in exact arithmetic from the printed data. One-way sets: NIST/ITL Statistical Reference
Datasets, analysis of variance (AtmWtAg, SiRstv, SmLs01, SmLs04, SmLs07), certified values in each file's header. Pooled
standard deviation: NIST/SEMATECH e-Handbook of Statistical Methods, sect. 2.4.4.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.comparison.repeatability import (
    anova_table,
    average_range,
    d2,
    d2_star,
    d3,
    repeatability_of,
    variance_components,
)
from feelcheck.comparison.tests_of_means import side_mean
from feelcheck.errors import NotEnoughDataError

pytestmark = pytest.mark.reference
DATA = Path(__file__).parent / "data"


def readings(name: str, operator: str) -> NDArray[np.float64]:
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    operators = sorted({row[operator] for row in rows})
    parts = sorted({row["part"] for row in rows}, key=int)
    trials = sorted({row["trial"] for row in rows})
    values = {(r[operator], r["part"], r["trial"]): float(r["value"]) for r in rows}
    return np.array([[[values[o, p, t] for t in trials] for p in parts] for o in operators])


@pytest.fixture(scope="module")
def aiag() -> NDArray[np.float64]:
    return readings("grr_aiag_msa_10x3x3.csv", "appraiser")


def certified(name: str) -> tuple[list[NDArray[np.float64]], dict[str, float]]:
    lines = (DATA / f"nist_strd_anova_{name}.csv").read_text(encoding="utf-8").splitlines()
    header = next(line for line in lines if line.startswith("# certified:")).removeprefix("# certified:")
    values = {key: float(value) for key, value in (pair.split("=") for pair in header.split())}
    rows = [line.split(",") for line in lines if not line.startswith("#")][1:]
    groups = list(dict.fromkeys(group for group, _ in rows))
    return [np.array([float(y) for g, y in rows if g == group]) for group in groups], values


@pytest.mark.parametrize(
    ("name", "n_operators", "accuracy"),
    [("atmwtag", 2, 1e-8), ("smls01", 3, 1e-9), ("smls04", 3, 1e-8), ("smls07", 3, 1e-4)],
)
def test_one_way_certified_sets(name: str, n_operators: int, accuracy: float) -> None:
    """A one-way set dealt out to operators: the specimens' line is the set's own, all other lines are its residual."""
    groups, values = certified(name)
    study = np.stack([group.reshape(n_operators, -1) for group in groups], axis=1)
    table = anova_table(study)
    rest = [table.operator, table.interaction, table.equipment]
    ss_within, df_within = sum(row[0] for row in rest), sum(row[1] for row in rest)
    assert (table.specimen[1], df_within) == (values["df_between"], values["df_within"])
    assert table.specimen[0] == pytest.approx(values["SS_between"], rel=accuracy)
    assert ss_within == pytest.approx(values["SS_within"], rel=accuracy)
    assert table.specimen[2] / (ss_within / df_within) == pytest.approx(values["F"], rel=accuracy)


@pytest.mark.parametrize("name", ["sirstv", "atmwtag"])
def test_spread_between_replicates_is_the_certified_residual(name: str) -> None:
    groups, values = certified(name)
    means = [side_mean(group.tolist(), [0.0] * group.size) for group in groups]
    variance = np.mean([mean.u**2 * mean.n for mean in means])
    assert math.sqrt(variance) == pytest.approx(values["residual_sd"], rel=1e-9)


def test_pooled_standard_deviation_of_the_handbook() -> None:
    squares = [0.48115, 0.69209, 0.48483, 1.21752, 0.30076]
    shape = np.random.default_rng(1).normal(size=61)
    unit = (shape - shape.mean()) / math.sqrt(np.sum((shape - shape.mean()) ** 2))
    study = np.stack([[math.sqrt(ss) * unit for ss in squares]] * 2)
    equipment = anova_table(study).equipment
    assert equipment[1] == 2 * 300
    assert equipment[0] == pytest.approx(2 * 3.17635, abs=1e-9)
    assert math.sqrt(equipment[2]) == pytest.approx(0.10290, abs=5e-6)


def test_analysis_of_variance_table(aiag: NDArray[np.float64]) -> None:
    table = anova_table(aiag)
    found = [table.operator, table.specimen, table.interaction, table.equipment]
    assert [row[1] for row in found] == [2, 9, 18, 60]
    np.testing.assert_allclose([row[0] for row in found], [3.167262, 88.361934, 0.358982, 2.758933], atol=5e-7)
    assert table.interaction_p == pytest.approx(0.9741, abs=5e-5)


def test_pooled_components(aiag: NDArray[np.float64]) -> None:
    found = variance_components(aiag, pooled=True)
    expected = {"repeatability": 0.199933, "reproducibility": 0.226838, "gauge": 0.302372, "specimens": 1.042327}
    for name, sd in expected.items():
        assert found[name] == pytest.approx(sd, abs=1e-6), name
    assert found["total"] == pytest.approx(1.085300, abs=1e-6)


def test_unpooled_components(aiag: NDArray[np.float64]) -> None:
    found = variance_components(aiag, pooled=False)
    expected = {"repeatability": 0.214435, "reproducibility": 0.228304, "gauge": 0.313217, "specimens": 1.043395}
    for name, sd in expected.items():
        assert found[name] == pytest.approx(sd, abs=1e-6), name
    assert found["interaction"] == 0.0


def test_average_and_range(aiag: NDArray[np.float64]) -> None:
    found = average_range(aiag)
    unrounded = {"repeatability": 0.201863, "reproducibility": 0.229683, "gauge": 0.305782, "specimens": 1.104453}
    for name, sd in unrounded.items():
        assert found[name] == pytest.approx(sd, abs=5e-6), name
    published = {"repeatability": 0.20188, "reproducibility": 0.22963, "gauge": 0.30575, "specimens": 1.10456}
    for name, sd in published.items():
        assert found[name] == pytest.approx(sd, abs=1.5e-4), name


def test_the_rule_for_distinct_categories_is_kept(aiag: NDArray[np.float64]) -> None:
    study = repeatability_of(aiag, metric="smoothing_delay", unit="s")
    assert study.interaction_pooled
    assert study.n_distinct_raw == pytest.approx(4.861, abs=5e-4)
    assert study.n_distinct == 4
    assert "specimens themselves" in study.dominant
    assert sum(share.share_fraction for share in study.shares) == pytest.approx(1.0, abs=1e-12)


def test_second_example_pooled_variances() -> None:
    found = repeatability_of(readings("grr_10x3x2.csv", "operator"), metric="m", unit="s")
    expected = {"repeatability": 1.209028, "reproducibility": 0.455382, "specimens": 1.781211, "gauge": 1.664410}
    assert found.interaction_p == pytest.approx(0.4673, abs=5e-5)
    for name, variance in expected.items():
        assert found.anova[name] ** 2 == pytest.approx(variance, abs=1e-6), name
    assert found.n_distinct_raw == pytest.approx(1.4586, abs=5e-5)


@pytest.mark.parametrize(("m", "constant"), [(2, 1.12838), (3, 1.69257), (5, 2.32593), (10, 3.07751)])
def test_mean_range_constant(m: int, constant: float) -> None:
    assert d2(m) == pytest.approx(constant, abs=5e-6)


@pytest.mark.parametrize(("m", "k2"), [(2, 0.7071), (3, 0.5231), (4, 0.4467), (6, 0.3742), (10, 0.3146)])
def test_single_range_constant(m: int, k2: float) -> None:
    assert 1 / d2_star(m) == pytest.approx(k2, abs=5e-5)


def test_spread_of_the_range() -> None:
    assert d3(2) == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-6)


@pytest.mark.parametrize("shape", [(1, 5, 2), (2, 1, 2), (2, 5, 1)])
def test_a_study_that_is_too_small_is_refused(shape: tuple[int, int, int]) -> None:
    with pytest.raises(NotEnoughDataError, match="two operators"):
        anova_table(np.zeros(shape))


def test_an_empty_cell_is_refused() -> None:
    study = np.ones((2, 3, 2))
    study[0, 0, 0] = np.nan
    with pytest.raises(NotEnoughDataError, match="every cell filled"):
        anova_table(study)
