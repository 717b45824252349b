"""Every term of an uncertainty in the comparisons, and every number that decides: each is missed where it is gone.

Truths are closed forms, or simulated with a fixed generator. `tests/mutation` lists what these tests are to notice.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import special, stats

from feelcheck.comparison import Plan, compare_sides
from feelcheck.comparison.chain import judge_link
from feelcheck.comparison.control_chart import batch_means, control_chart
from feelcheck.comparison.decisions import more_per_side
from feelcheck.comparison.numbers import ALPHA_FIXED
from feelcheck.comparison.pairs import SpecimenPair, compare_pairs
from feelcheck.comparison.placing import share_below
from feelcheck.comparison.population import deviations, outlier_limit
from feelcheck.comparison.prediction import PredictedTail, predict_tail
from feelcheck.comparison.repeatability import repeatability_of
from feelcheck.comparison.resampling import p_of_ranks
from feelcheck.comparison.same_sensor import BoardResponse, compare_sensors
from feelcheck.comparison.spread import SpecimenDelays, explain_spread
from feelcheck.comparison.tests_of_means import Difference, side_mean
from feelcheck.comparison.tolerance import is_skewed, tolerance_limits
from feelcheck.model import Estimate, HandRecord, Margin, MetricComparison

FIXED = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.001)})


def ms(value: float, u: float = 0.02, dof: float = math.inf) -> Estimate:
    return Estimate.measured("smoothing_delay", value / 1e3, u=u / 1e3, unit="s", dof=dof)


def session(estimate: Estimate, name: str) -> HandRecord:
    return HandRecord(session=name, axes={"left_x": {"rising": {"smoothing_delay": estimate}}})


def paired_row(befores: list[Estimate], afters: list[Estimate]) -> MetricComparison:
    pairs = [
        SpecimenPair(specimen=f"fir{k}", before=[session(before, f"b{k}")], after=[session(after, f"a{k}")])
        for k, (before, after) in enumerate(zip(befores, afters, strict=True))
    ]
    (row,) = compare_pairs(pairs, candidate_name="c3_lifted", state="c3_lifted", plan=FIXED)
    return row


def test_equal_replicates_are_no_surer_than_each_by_itself() -> None:
    assert side_mean([5.0, 5.0, 5.0], [0.3, 0.3, 0.3]).u == pytest.approx(0.3 / math.sqrt(3))
    assert side_mean([5.0], [0.3]).u == pytest.approx(0.3)


def test_intervals_of_means_hold_their_truth_as_often_as_they_say() -> None:
    """Spread between and within, both unlike 0, one replicate twice as unsure: 95 % of 400 intervals."""
    rng = np.random.default_rng(21)
    within = np.array([0.2, 0.2, 0.2, 0.2, 0.4, 0.4])
    held = 0
    for values in 3.0 + rng.normal(0.0, np.hypot(0.3, within), (400, 6)):
        found = side_mean(values.tolist(), within.tolist())
        held += abs(found.mean - 3.0) < stats.t.ppf(0.975, found.dof) * found.u
    assert held == pytest.approx(380, abs=4 * math.sqrt(400 * 0.95 * 0.05))


def test_both_states_of_a_pair_are_in_its_uncertainty() -> None:
    row = paired_row([ms(5.0 + k, u=0.03) for k in range(4)], [ms(7.0 + k, u=0.04) for k in range(4)])
    assert row.difference.u == pytest.approx(0.05e-3 / 2)


def at_most(value: float) -> Estimate:
    return Estimate.at_most("smoothing_delay", value / 1e3, unit="s")


def at_least(value: float) -> Estimate:
    return Estimate.at_least("smoothing_delay", value / 1e3, unit="s")


def test_a_specimen_s_own_sessions_make_it_surer_and_a_bound_among_them_takes_its_lower_end() -> None:
    def row_of(after: Callable[[int], list[Estimate]]) -> MetricComparison:
        pairs = [
            SpecimenPair(
                specimen=f"fir{k}",
                before=[session(ms(5.0 + k, u=0.03), f"b{k}{j}") for j in "ab"],
                after=[session(one, f"a{k}{j}") for j, one in enumerate(after(k))],
            )
            for k in range(4)
        ]
        return compare_pairs(pairs, candidate_name="c3_lifted", state="c3_lifted", plan=FIXED)[0]

    alike = row_of(lambda k: [ms(2.0 + k, u=0.04)] * 2)
    assert alike.difference.u == pytest.approx(0.05e-3 / math.sqrt(2) / 2)
    mixed = row_of(lambda _: [ms(1.2, u=1e-6), at_most(0.8)])
    t_90, u = stats.t.ppf(0.95, 3), np.std([5, 6, 7, 8], ddof=1) / 2 + 0.6 / 2
    assert 1e3 * (mixed.low90 or 0.0) == pytest.approx(-6.5 - t_90 * u)
    assert 1e3 * (mixed.high90 or 0.0) == pytest.approx(-6.5 + 1.2 + t_90 * u)


BASELINE = [3.0, 3.2, 3.4]
HALF = float(stats.t.ppf(0.975, 2)) * 0.2 / math.sqrt(3)
"""Half of the 95 % interval of their mean."""
LONE = float(stats.t.ppf(0.975, 1)) * 0.1
"""The same of two values 0.2 apart."""


@pytest.mark.parametrize(
    ("candidate", "low", "high"),
    [
        ([at_most(1.0), at_most(2.0), at_most(1.5)], 0.0, 1.5),
        ([ms(1.2), ms(1.4), at_most(1.0)], 0.0, 1.3 + LONE),
        ([ms(1.2), ms(1.4), at_most(9.0)], 0.0, 9.0),
        ([ms(9.0), ms(9.2), at_least(8.5)], 9.1 - LONE, math.inf),
        ([ms(9.0), ms(9.2), at_least(5.0)], 5.0, math.inf),
    ],
)
def test_a_side_with_bounds_lies_between_the_worst_of_its_values_and_bounds(
    candidate: list[Estimate], low: float, high: float
) -> None:
    sides = [[session(one, f"{name}{k}") for k, one in enumerate(side)]
             for name, side in (("b", [ms(value, u=1e-6) for value in BASELINE]), ("c", candidate))]  # fmt: skip
    (row,) = compare_sides(*sides, candidate_name="elm", plan=FIXED)
    ends = [math.inf if end is None else 1e3 * end for end in (row.low90, row.high90)]
    assert ends == pytest.approx([low - 3.2 - HALF, high - 3.2 + HALF], rel=1e-3)


def test_bounds_that_reach_beyond_the_margin_on_one_side_decide_nothing() -> None:
    sides = [[session(at_most(bound), f"{name}{k}") for k in range(3)] for name, bound in (("b", 3.0), ("c", 0.4))]
    (row,) = compare_sides(*sides, candidate_name="elm", plan=FIXED)
    assert (row.verdict, row.margin) == ("undecided", 0.001)


@pytest.mark.parametrize(("side", "reference"), [(at_least(5.0), 5.0), (at_most(5.0), 5.0)])
def test_a_relative_margin_of_a_bound_is_of_the_bound(side: Estimate, reference: float) -> None:
    plan = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.3, relative=True)})
    sides = [session(side, f"b{k}") for k in range(2)], [session(ms(9.0), f"c{k}") for k in range(2)]
    (row,) = compare_sides(*sides, candidate_name="elm", plan=plan)
    assert row.margin == pytest.approx(0.3 * reference / 1e3)


@pytest.mark.parametrize(("apart", "seen"), [(0.5, "inside"), (1.0, "across"), (1.4, "beyond"), (-1.4, "beyond")])
def test_one_recording_a_side_tells_where_its_difference_lies_and_both_doubts(apart: float, seen: str) -> None:
    sides = [[session(ms(value, u=u), name)] for name, value, u in (("b", 5.0, 0.06), ("c", 5.0 + apart, 0.08))]
    (row,) = compare_sides(*sides, candidate_name="elm", plan=FIXED)
    assert row.verdict == "undecided"
    assert f"lies {seen} the margin" in row.why
    assert row.difference.u == pytest.approx(0.1e-3)
    assert sorted(term.u for term in row.difference.terms) == pytest.approx([0.06e-3, 0.08e-3])


def test_what_is_known_for_sure_is_told_for_sure() -> None:
    """Differences without any doubt, as whole steps give: 0 and 2 against a margin of 1."""
    none, two = (Difference(value=value, u=0.0, dof=3) for value in (0.0, 2.0))
    assert (none.p_difference, two.p_difference) == (1.0, 0.0)
    assert (none.p_equivalence(1.0), two.p_equivalence(1.0)) == (0.0, 1.0)


def test_pairs_with_a_bound_are_judged_by_their_worst_case() -> None:
    before = np.array([1.2, 1.0, 1.4, 1.1])
    row = paired_row(
        [ms(value, u=1e-6) for value in before], [Estimate.at_most("smoothing_delay", 0.4e-3, unit="s")] * 4
    )
    size, half = before.mean() - 0.2, 0.2
    u = np.std(before, ddof=1) / 2 + half / 2
    reach = half + stats.t.ppf(0.95, 3) * u
    assert (1e3 * (row.low90 or 0.0), 1e3 * (row.high90 or 0.0)) == pytest.approx((-size - reach, -size + reach))
    nearest = size - half - stats.t.ppf(0.975, 3) * u
    assert row.difference.status == "at_most"
    assert 1e3 * (row.difference.bound or 0.0) == pytest.approx(-nearest)
    assert row.p_difference == pytest.approx(2 * stats.t.sf((size - half) / u, 3))
    assert row.p_equivalence == pytest.approx(stats.t.cdf((size + half - 1.0) / u, 3))


def tail(**terms: float) -> PredictedTail:
    t_s = np.arange(0.0, 0.05, 0.001)
    nothing = {"u_relative": 0.0, "step_fs": 0.0, "noise_fs": 0.0, "jitter_s": 0.0, "rim_fs": 0.0}
    return predict_tail(t_s, 0.7 - 0.4 * np.exp(-t_s / 0.01), 0.01, **{**nothing, **terms})


def half_width(**terms: float) -> np.ndarray:
    found = tail(**terms)
    return np.asarray((found.high_fs - found.low_fs) / 2 / stats.norm.ppf(0.95))


def test_every_term_of_a_predicted_tail_is_its_closed_form() -> None:
    t = np.arange(0.0, 0.05, 0.001) / 0.01
    decay = np.exp(-t)
    white = np.sqrt(1.0 + decay**2 + math.pi / 2 / 10 * (1.0 - decay) ** 2)
    expected = {
        "u_relative": 0.4 * t * decay * 0.02,
        "jitter_s": 0.4 / 0.01 * decay * 0.0002,
        "rim_fs": np.full(t.size, 0.004),
        "noise_fs": 0.003 * white,
        "step_fs": 0.01 / math.sqrt(12) * white,
    }
    given = {"u_relative": 0.02, "jitter_s": 0.0002, "rim_fs": 0.004, "noise_fs": 0.003, "step_fs": 0.01}
    for name, value in given.items():
        assert half_width(**{name: value}) == pytest.approx(expected[name], rel=2e-4, abs=1e-12), name
    both = half_width(u_relative=0.02, jitter_s=0.0002, rim_fs=0.004, noise_fs=0.003)
    together = np.sqrt(sum(expected[name] ** 2 for name in ("u_relative", "jitter_s", "rim_fs", "noise_fs")))
    assert both == pytest.approx(together, rel=2e-4)


def test_an_unsure_stick_lies_anywhere_in_its_population() -> None:
    values = np.arange(1000.0)
    sure, unsure = share_below(values, 500.0, 0.0), share_below(values, 500.0, 100.0)
    assert sure[2] - sure[1] < 0.07
    assert unsure[1:] == pytest.approx((0.5 - 0.196, 0.5 + 0.196), abs=0.03)


def test_a_batch_s_interval_is_student_s() -> None:
    mean = batch_means([1.0, 2.0, 3.0, 9.0], ["a", "a", "a", "b"])[0]
    assert (mean.low, mean.high) == pytest.approx(stats.t.interval(0.95, 2, loc=2.0, scale=1 / math.sqrt(3)))


def test_a_run_of_eight_is_one_and_a_run_of_seven_is_none() -> None:
    for n, found in ((7, False), (8, True)):
        chart = control_chart([2.0, 0.0] * 4 + [1.6] * n + [0.0, 2.0, 0.0, 0.9, 0.0, 2.0, 0.0])
        assert chart is not None
        assert bool(chart.runs) == found


def test_what_measuring_scatters_is_taken_off_every_link() -> None:
    rows = [
        SpecimenDelays(name=str(k), parts=ms(p, 0.3), bench=ms(p + s, 0.4), hand=ms(p + s + c, 0.5))
        for k, (p, s, c) in enumerate([(3.0, 0.0, 2.0), (6.0, 3.0, 0.0), (9.0, 0.0, 1.0), (2.0, 3.0, 5.0)])
    ]
    found = {share.source: 1e6 * (share.sd.value or 0.0) ** 2 for share in explain_spread(rows)}
    assert found["filter_parts"] == pytest.approx(np.var([3, 6, 9, 2], ddof=1) - 0.09)
    assert found["sensor"] == pytest.approx(3.0 - 0.09 - 0.16)
    assert found["converter_and_firmware"] == pytest.approx(np.var([2, 0, 1, 5], ddof=1) - 0.16 - 0.25)
    assert found["measurement"] == pytest.approx(0.25)


def test_a_share_of_a_gauge_study_knows_its_degrees_of_freedom() -> None:
    readings = np.random.default_rng(2).normal(0.0, 1.0, (3, 5, 2)) + 3.0 * np.arange(5)[None, :, None]
    shares = {share.source: share.sd for share in repeatability_of(readings, metric="x", unit="s").shares}
    assert shares["specimens"].u == pytest.approx((shares["specimens"].value or 0.0) / math.sqrt(2 * 4))


def test_a_large_gauge_study_finds_what_was_put_in() -> None:
    """Repeats of 1, hands of 2, some hands with some specimens 1, specimens of 5; and without the third, pooled."""
    rng = np.random.default_rng(5)
    hands, specimens, crossed = (
        rng.normal(0, 2, (60, 1, 1)),
        rng.normal(0, 5, (1, 60, 1)),
        rng.normal(0, 1, (60, 60, 1)),
    )
    noise = rng.normal(0, 1, (60, 60, 3))
    for more, interaction in ((crossed, 1.0), (0.0, 0.0)):
        found = repeatability_of(hands + specimens + more + noise, metric="x", unit="s").anova
        assert found["interaction"] == pytest.approx(interaction, rel=0.1)
        assert found["repeatability"] == pytest.approx(1.0, rel=0.05)
        assert found["reproducibility"] == pytest.approx(float(np.std(hands, ddof=1)), rel=0.15)
        assert found["specimens"] == pytest.approx(float(np.std(specimens, ddof=1)), rel=0.1)
        assert found["total"] == pytest.approx(math.sqrt(sum(found[name] ** 2 for name in ("gauge", "specimens"))))


@pytest.mark.parametrize(("shape", "rough"), [((3, 5, 2), False), ((3, 4, 2), True), ((2, 5, 2), True)])
def test_a_small_gauge_study_says_so(shape: tuple[int, int, int], rough: bool) -> None:
    readings = np.random.default_rng(2).normal(0.0, 1.0, shape)
    assert bool(repeatability_of(readings, metric="x", unit="s").caveats) == rough


def board(name: str, residual_ms: float, u_ms: float = 0.001, **more: Estimate) -> BoardResponse:
    known = {
        "update_interval": Estimate.not_present("update_interval", unit="s"),
        "sensitivity": Estimate.measured("sensitivity", 1.2, u=0.012, unit="V/A"),
        "saturation_swing": Estimate.not_present("saturation_swing", unit="V"),
    }
    return BoardResponse(
        name=name,
        delay=ms(3.0 + residual_ms, u_ms),
        network_delay=ms(3.0, u_ms),
        drive_unit="A",
        drive_s=0.002,
        **{**known, **more},
    )


def test_evidence_on_two_boards_has_every_part_s_doubt() -> None:
    other = Estimate.measured("sensitivity", 1.0, u=0.02, unit="V/A")
    found = compare_sensors(board("alder", 0.1), board("elm", 0.1, sensitivity=other)).evidence
    assert found["residual_delay"].u == pytest.approx(1e-3 * math.hypot(0.04, 0.002))
    assert found["sensitivity"].u == pytest.approx(math.hypot(0.01, 0.02))
    boards = [board(name, 0.1, sensitivity=Estimate.measured("sensitivity", 1.0, u=0.02, unit="V/A", dof=dof))
              for name, dof in (("alder", 4.0), ("elm", 9.0))]  # fmt: skip
    for pair in (boards, boards[::-1]):
        assert compare_sensors(*pair).evidence["sensitivity"].dof == 4.0


@pytest.mark.parametrize(
    ("apart_ms", "verdict"),
    [(0.15, "consistent_with_one_sensor"), (0.35, "cannot_tell"), (0.45, "cannot_tell"), (0.7, "different")],
)
def test_how_far_residual_delays_decide(apart_ms: float, verdict: str) -> None:
    assert compare_sensors(board("alder", 0.1), board("elm", 0.1 + apart_ms)).verdict == verdict


def test_bounds_far_off_change_no_limits() -> None:
    values = np.array([4.1, 5.0, 5.2, 4.6, 5.9, 4.9, 5.4, 4.4, 5.1, 4.8])
    alone, beside = tolerance_limits(values), tolerance_limits(values, at_most=[1e3])
    assert alone is not None
    assert beside is not None
    assert (beside.low, beside.high) == pytest.approx((alone.low, alone.high), rel=1e-5)


def test_where_most_are_bounds_no_shape_is_seen() -> None:
    values = np.random.default_rng(1).normal(5.0, 0.3, 40)
    some = tolerance_limits(values, at_most=[6.0] * 30, sides=1)
    most = tolerance_limits(values, at_most=[6.0] * 50, sides=1)
    assert some is not None
    assert most is not None
    assert (some.shape, most.shape) == ("normal", "distribution_free")


def test_normal_samples_look_skewed_as_often_as_said() -> None:
    samples = np.random.default_rng(4).standard_normal((1500, 20))
    assert np.mean([is_skewed(sample) for sample in samples]) == pytest.approx(0.05, abs=0.022)


def test_clean_populations_show_an_outlier_as_often_as_said() -> None:
    clean = np.random.default_rng(6).standard_normal((1000, 12))
    limit = outlier_limit(12)
    shown = np.mean([np.abs(deviations(one)).max() > limit for one in clean])
    assert shown == pytest.approx(0.05, abs=0.025)


def detected(p: float, plan: Plan) -> bool:
    """Whether a difference of that two-sided p is seen: four replicates a side of equal spread."""
    spread = np.array([-1.5, -0.5, 0.5, 1.5])
    u = math.sqrt(2 * np.var(spread, ddof=1) / 4)
    shift = -u * float(special.stdtrit(6.0, p / 2))
    sides = [
        [session(ms(10.0 * v + 500.0, u=1e-6), f"{name}{k}") for k, v in enumerate(spread + moved)]
        for name, moved in (("b", 0.0), ("c", shift))
    ]
    (row,) = compare_sides(*sides, candidate_name="elm", plan=plan)
    assert row.p_difference == pytest.approx(p, rel=1e-6)
    return row.detected


@pytest.mark.parametrize(("p", "unplanned", "planned"), [(0.02, True, True), (0.03, False, True), (0.07, False, False)])
def test_the_level_of_a_look(p: float, unplanned: bool, planned: bool) -> None:
    assert (detected(p, Plan(margins=FIXED.margins)), detected(p, FIXED)) == (unplanned, planned)


def test_the_advice_has_the_power_that_it_names() -> None:
    """Equivalence of equal sides, normal approximation: 2 phi(margin / u - z_alpha) - 1, just at 90 %."""

    def power(n: float) -> float:
        return float(2 * stats.norm.cdf(1.0 / (0.6 * math.sqrt(4 / n)) - stats.norm.ppf(1 - ALPHA_FIXED)) - 1)

    more = more_per_side(0.6, 4, 1.0, ALPHA_FIXED)
    assert more is not None
    assert power(4 + more) >= 0.9 > power(4 + more - 1)
    assert more_per_side(2.0, 4, 1.0, ALPHA_FIXED) is None
    assert more_per_side(0.1, 4, 1.0, ALPHA_FIXED, difference=0.99) == 2, "no chase of a knife's edge"


def test_ranks_are_counted_out_where_they_are_few_and_not_asked_where_they_cannot_tell() -> None:
    rng = np.random.default_rng(3)
    first, second = rng.normal(0, 1, 7), rng.normal(1, 1, 8)
    exact = stats.mannwhitneyu(first, second, method="exact").pvalue
    assert p_of_ranks(first.tolist(), second.tolist()) == pytest.approx(exact, rel=1e-9)
    assert p_of_ranks(first.tolist()[:4], second.tolist()[:4]) is None


def study(strength: float) -> np.ndarray:
    """Three hands, five specimens, two repeats, and some hands with some specimens by so much."""
    rng = np.random.default_rng(3)
    crossed = strength * np.sign(np.outer([1.0, -1.0, 1.0], [1.0, -1.0, 1.0, -1.0, 1.0]))
    return np.asarray(rng.normal(0.0, 1.0, (3, 5, 2)) + crossed[:, :, None])


def test_an_interaction_is_pooled_from_a_p_of_a_quarter_on() -> None:
    pooled = {strength: repeatability_of(study(strength), metric="x", unit="s") for strength in np.arange(0, 2, 0.1)}
    assert {result.interaction_pooled for result in pooled.values()} == {True, False}
    for result in pooled.values():
        assert result.interaction_pooled == (result.interaction_p > 0.25)


def test_a_link_disagrees_only_beyond_its_interval() -> None:
    for apart_ms, verdict in ((1.5, "cannot_tell"), (3.5, "disagree")):
        link = judge_link(
            ms(9.0, 0.6), ms(9.0 + apart_ms, 0.8), specimen="elm", axis="left_x", state="as_found", direction="rising",
            link="bench-hand", margin_s=1e-3,
        )  # fmt: skip
        assert link.verdict == verdict
