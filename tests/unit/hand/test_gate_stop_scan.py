"""Places to start from: the right length of an average and the right contacts, from a one-pole fit that has neither."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.linearised import columns, evidence, linearise
from feelcheck.hand.gate_stop.models import N_MOTION, ResponseShape, basis
from feelcheck.hand.gate_stop.rim_priors import RIM_PRIORS, rim_of
from feelcheck.hand.gate_stop.scan import average_starts, pair_starts
from feelcheck.hand.gate_stop.search import Found, started

INTERVAL_S = 1e-3
N_FLICKS = 6


def flicks(shape: ResponseShape, tau_s: tuple[float, ...], seed: int = 3) -> tuple[Batch, np.ndarray]:
    """Return flicks that stop dead at the rim, made of the basis itself, with a little noise."""
    rng = np.random.default_rng(seed)
    contact = rng.uniform(-5e-4, 5e-4, N_FLICKS)
    rows = 2 * N_FLICKS
    t = np.tile(np.arange(-0.02, 0.1, INTERVAL_S), (rows, 1))
    scale = np.full(rows, 0.02)
    phi = basis(
        t,
        np.repeat(contact, 2),
        np.tile(tau_s, (rows, 1)),
        lags_s=shape.lags() * INTERVAL_S,
        scale_s=scale,
    )[0]
    clean = 0.7 * phi[..., 0] + rng.uniform(0.15, 0.3, rows)[:, None] * phi[..., 1]
    batch = Batch(
        t_s=t,
        y=clean + 3e-4 * rng.normal(size=t.shape),
        weight=np.full(t.shape, 1.0 / 3e-4**2),
        group=np.arange(rows) % N_GROUPS,
        angle_rad=np.full(N_FLICKS, np.pi / 4),
        scale_s=scale,
        interval_s=INTERVAL_S,
    )
    return batch, contact


def one_pole(batch: Batch, tau_s: float, contact_s: np.ndarray) -> Found:
    return started(batch, ResponseShape(n_poles=1), np.full((N_GROUPS, 1), tau_s), contact_s)


@pytest.mark.parametrize("n_average", [3, 6])
def test_the_length_of_an_average_is_found_from_contacts_at_its_far_end(n_average: int) -> None:
    batch, contact = flicks(ResponseShape(n_poles=1, n_average=n_average), (0.001,))
    late = contact + INTERVAL_S * np.where(np.arange(N_FLICKS) % 2, n_average, 0.0)
    found = one_pole(batch, 0.003, late)
    best = average_starts(found, 16)[0]
    assert abs(best.shape.n_average - n_average) <= 1
    np.testing.assert_allclose(best.contact_s, contact, rtol=0, atol=1.6 * INTERVAL_S)


def test_no_average_is_the_best_place_where_there_is_none() -> None:
    batch, contact = flicks(ResponseShape(n_poles=1), (0.004,))
    starts = average_starts(one_pole(batch, 0.004, contact), 16)
    assert starts[0].shape.n_average == 1
    assert [start.total for start in starts] == sorted(start.total for start in starts)


def test_lengths_beyond_the_longest_are_not_looked_at() -> None:
    batch, contact = flicks(ResponseShape(n_poles=1), (0.004,))
    starts = average_starts(one_pole(batch, 0.004, contact), 4)
    assert max(start.shape.n_average for start in starts) == 4


def test_a_pole_is_split_the_way_it_was_made() -> None:
    batch, contact = flicks(ResponseShape(n_poles=2), (0.006, 0.003))
    best = pair_starts(one_pole(batch, 0.008, contact))[0]
    assert 0.2 < float(np.median(best.tau_s[:, 1] / best.tau_s[:, 0])) <= 1.0


def test_evidence_is_the_linearised_objective() -> None:
    batch, contact = flicks(ResponseShape(n_poles=1), (0.004,))
    shape, tau = ResponseShape(n_poles=1), np.full((N_GROUPS, 1), 0.005)
    rim = replace(rim_of(RIM_PRIORS[-1], N_FLICKS), outward=np.full((N_FLICKS, N_MOTION), 1e-3))
    prior = rim.prior(batch.angle_rad)
    full = linearise(batch, shape, contact, tau, prior, contacts_only=True)
    quick = evidence(batch, columns(batch, shape, contact, tau[batch.group]), prior)
    np.testing.assert_allclose(quick, full.objective, rtol=1e-5)
