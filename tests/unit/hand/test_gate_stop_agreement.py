"""Disjoint parts of the evidence: what they disagree by counts, what only scatters does not."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.hand.gate_stop.agreement import disagreement_u, flick_logs
from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.models import N_BASIS

N = 12
INFORMATION = 400.0


def chosen(own: np.ndarray, *, along: bool = False) -> Any:
    """A fit of N flicks, x rising, whose own logs of the time constant are given; y rises in every other one."""
    group = np.array([(0, 2 + f % 2) for f in range(N)]).ravel()
    batch = Batch(
        t_s=np.zeros((2 * N, 5)),
        y=np.zeros((2 * N, 5)),
        weight=np.ones((2 * N, 5)),
        group=group,
        angle_rad=np.where((np.arange(N) % 3 == 0) & along, 0.05, np.pi / 4),
        scale_s=np.full(2 * N, 0.02),
        interval_s=0.001,
    )
    information = np.zeros((N, 4, 4))
    information[:, 0, 0] = INFORMATION
    score = np.zeros((N, 4))
    score[:, 0] = INFORMATION * own
    coefficients = np.zeros((2 * N, N_BASIS))
    coefficients[:, 1] = 0.2 + 0.01 * np.repeat((5 * np.arange(N)) % N, 2)
    fit = SimpleNamespace(
        flick_information=information, flick_score=score, coefficients=coefficients, tau_s=np.full((4, 1), 0.01)
    )
    return SimpleNamespace(best=SimpleNamespace(batch=batch, fit=fit), shape=SimpleNamespace(n_poles=1))


SCATTER = 0.002 * np.array([1, -1, -1, 1, 1, -1, -1, 1, 1, -1, -1, 1])


@pytest.mark.parametrize(
    "side",
    [
        np.arange(N) % 2 == 0,
        (5 * np.arange(N)) % N > 5,
        np.arange(N) < N / 2,
    ],
    ids=["neighbours", "speed", "time"],
)
def test_halves_that_disagree_count_half_their_difference(side: np.ndarray) -> None:
    apart = np.where(side, 0.05, -0.05) + SCATTER
    # The scatter takes a little off.
    assert disagreement_u(chosen(apart), 0) == pytest.approx(0.05, rel=0.05)


def test_flicks_along_the_axis_are_held_against_those_across() -> None:
    along = np.arange(N) % 3 == 0
    assert disagreement_u(chosen(np.where(along, 0.06, 0.0) + SCATTER, along=True), 0) > 0.02


def test_scatter_alone_does_not_count() -> None:
    assert disagreement_u(chosen(SCATTER), 0) < 0.002


def test_too_few_flicks_say_nothing() -> None:
    few = chosen(np.full(N, 0.3))
    few.best.batch.weight[8:] = 0.0
    assert disagreement_u(few, 0) == 0.0


def test_a_flick_without_information_has_no_value_of_its_own() -> None:
    found = chosen(SCATTER).best
    found.fit.flick_information[3, 0, 0] = 1e-3 * INFORMATION
    flicks, own, info = flick_logs(found, 0, 0)
    assert 3 not in flicks.tolist()
    np.testing.assert_allclose(own, SCATTER[flicks], rtol=1e-9)
    np.testing.assert_allclose(info, INFORMATION, rtol=1e-9)
