"""The gate stop's kernel: the basis, the derivatives, and exact recovery from data that follow the model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.contact import KNOTS_S, component_motion, hat_from_ramps, motion_covariance
from feelcheck.hand.gate_stop.joint_fit import Fit, fit, settle_contacts
from feelcheck.hand.gate_stop.linearised import linearise, moments
from feelcheck.hand.gate_stop.models import LARGEST_EXPONENT, MOTION, N_MOTION, ResponseShape, basis
from feelcheck.hand.gate_stop.rim_priors import RIM_PRIORS, Rim, rim_of
from feelcheck.hand.gate_stop.search import best_rim

ONE_POLE = ResponseShape(n_poles=1)
INTERVAL_S = 1e-3
STEP_S = 2e-5


def pole(u: np.ndarray, tau_s: float) -> np.ndarray:
    """Filter a fine grid by stepping the differential equation with straight pieces of input."""
    kept = np.exp(-STEP_S / tau_s)
    y = np.empty_like(u)
    y[0] = u[0]
    slope = np.diff(u, append=u[-1]) / STEP_S
    for k in range(1, u.size):
        lag = y[k - 1] - u[k - 1] + tau_s * slope[k - 1]
        y[k] = u[k] - tau_s * slope[k - 1] + lag * kept
    return y


def kinked(taus: tuple[float, ...], noise: float = 0.0, n_flicks: int = 8, seed: int = 0) -> tuple[Batch, np.ndarray]:
    """Flicks that run straight into a stiff rim, each axis behind its own pole."""
    rng = np.random.default_rng(seed)
    fine = np.arange(-0.2, 0.15, STEP_S)
    ys, ts, groups, contacts = [], [], [], []
    for f in range(n_flicks):
        contact, speed = rng.uniform(-5e-4, 5e-4), rng.uniform(8.0, 16.0)
        position = 0.7 + speed * np.minimum(fine - contact, 0.0)
        t = np.arange(-0.02, 0.1, INTERVAL_S)
        for axis in range(2):
            group = 2 * axis + (f + axis) % 2
            clean = np.interp(t, fine, pole(position, taus[group]))
            ys.append(clean + noise * rng.normal(size=t.size))
            ts.append(t)
            groups.append(group)
        contacts.append(contact)
    variance = max(noise, 1e-5) ** 2
    batch = Batch(
        t_s=np.array(ts),
        y=np.array(ys),
        weight=np.full((2 * n_flicks, ts[0].size), 1.0 / variance),
        group=np.array(groups),
        angle_rad=np.full(n_flicks, np.pi / 4),
        scale_s=np.full(2 * n_flicks, 0.02),
        interval_s=INTERVAL_S,
    )
    return batch, np.array(contacts)


def fitted(batch: Batch, rim: Rim | None = None) -> Fit:
    """Fit one pole from 4 ms and contacts at 0."""
    rim = rim or rim_of(RIM_PRIORS[0], batch.n_flicks)
    return fit(
        batch,
        ONE_POLE,
        contact_s=np.zeros(batch.n_flicks),
        tau_s=np.full((N_GROUPS, 1), 0.004),
        prior=rim.prior(batch.angle_rad),
        n_steps=20,
    )


def test_hats_stand_on_their_own_knot() -> None:
    ramps = np.maximum(KNOTS_S[:, None] - KNOTS_S, 0.0)
    np.testing.assert_allclose((ramps @ hat_from_ramps())[1:], np.eye(N_MOTION), rtol=0, atol=1e-12)


def test_covariance_of_the_motion_has_the_size_asked_for() -> None:
    covariance = motion_covariance(0.01, 0.0, 0.0)
    assert np.sqrt(covariance[-1, -1]) == pytest.approx(0.01, rel=0.02)
    assert np.all(np.linalg.eigvalsh(covariance) > 0)


def test_rims_give_outward_and_bounces_go_inward() -> None:
    gives, _ = component_motion((0.01, 0.02), (0.0, 0.0, 0.0), 0.0)
    bounces, covariance = component_motion((0.0, 0.0), (0.01, 60.0, 0.5), 0.0)
    assert np.all(np.diff(gives) >= 0)
    assert gives[-1] == pytest.approx(0.01, rel=1e-3)
    assert bounces.min() < -0.005
    assert bounces.max() <= 0.0
    assert abs(bounces[-1]) < 1e-4
    assert np.all(np.linalg.eigvalsh(covariance) > 0)


def outward_of(name: str) -> np.ndarray:
    """Radial motion of flicks behind 4 ms at the knots, permille of full throw, with a known motion added."""
    batch, contacts = kinked((0.004,) * 4, noise=1e-4)
    s = np.maximum(batch.t_s - np.repeat(contacts, 2)[:, None], 0.0)
    path = 0.012 * np.clip(s / 0.012, 0, 1) if name == "give" else -0.012 * (s < 0.008) * np.sin(np.pi * s / 0.008)
    fine = np.arange(0.0, 0.15, STEP_S)
    filtered = [pole(np.interp(fine, row, along), 0.004) for row, along in zip(s, path, strict=True)]
    moved = batch.y + np.array([np.interp(row, fine, along) for row, along in zip(s, filtered, strict=True)]) / np.sqrt(
        2
    )
    info, pull = moments(replace(batch, y=moved), ONE_POLE, contacts, np.full((N_GROUPS, 1), 0.004))
    rim = best_rim(info, pull, batch.angle_rad, rim_of(RIM_PRIORS[0], batch.n_flicks).tangential)
    return 1e3 * rim.outward


def test_the_component_of_the_rim_is_recognised() -> None:
    gave, bounced = outward_of("give"), outward_of("bounce")
    assert np.all(gave[:, -1] > 3)
    assert np.all(bounced.min(axis=1) < -3)
    assert np.all(np.abs(bounced[:, -1]) < 3)


@pytest.mark.parametrize("taus", [(0.004,), (0.006, 0.002)])
def test_basis_is_what_simulated_poles_make_of_a_hat(taus: tuple[float, ...]) -> None:
    # straight pieces of input are exact in the stepped filter; what is left is interpolation, step^2 / 8
    fine = np.arange(-0.01, 0.2, STEP_S)
    knots = np.concatenate([[-1.0], KNOTS_S, [9.0]])
    u = np.interp(fine, knots, np.eye(KNOTS_S.size + 2)[4])
    for tau in taus:
        u = pole(u, tau)
    t = np.arange(0.0, 0.15, 0.0013)
    found = basis(t[None], np.zeros(1), np.array([taus]), lags_s=np.zeros(1), scale_s=np.full(1, 0.02))[
        0, 0, :, MOTION.start + 2
    ]
    np.testing.assert_allclose(found, np.interp(t, fine, u), rtol=0, atol=2e-5)


@pytest.mark.parametrize("taus", [(0.004,), (0.006, 0.002)])
def test_basis_is_what_simulated_poles_make_of_a_stick_that_runs_into_the_rim(taus: tuple[float, ...]) -> None:
    # as above; the input's kink lies on the grid
    fine = np.arange(-0.2, 0.05, STEP_S)
    u = np.minimum(fine, 0.0) / 0.02
    for tau in taus:
        u = pole(u, tau)
    t = np.arange(-0.02, 0.04, 0.0013)
    found = basis(t[None], np.zeros(1), np.array([taus]), lags_s=np.zeros(1), scale_s=np.full(1, 0.02))[0, 0, :, 1]
    np.testing.assert_allclose(found, np.interp(t, fine, u), rtol=0, atol=3e-3 * STEP_S / 2e-5)


@pytest.mark.parametrize("n_average", [1, 3])
@pytest.mark.parametrize("taus", [(0.004,), (0.0003,), (0.006, 0.002), (0.006, 0.0061)])
def test_slopes_of_the_basis_are_its_differences(taus: tuple[float, ...], n_average: int) -> None:
    t = np.random.default_rng(3).uniform(-0.03, 0.2, (1, 80))
    lags = ResponseShape(n_poles=len(taus), n_average=n_average).lags() * INTERVAL_S

    def at(contact_s: float, tau_s: tuple[float, ...], n_slopes: int = 0) -> np.ndarray:
        scale = np.full(1, 0.02)
        return basis(t, np.array([contact_s]), np.array([tau_s]), lags_s=lags, scale_s=scale, n_slopes=n_slopes)[:, 0]

    _, by_contact, *by_taus = at(0.0, taus, 1 + len(taus))
    expected = (at(1e-7, taus)[0] - at(-1e-7, taus)[0]) / 2e-7
    np.testing.assert_allclose(by_contact, expected, rtol=0, atol=1e-6 * np.abs(expected).max())
    for i, found in enumerate(by_taus):
        up, down = (tuple(tau * (1 + h) if k == i else tau for k, tau in enumerate(taus)) for h in (1e-6, -1e-6))
        expected = (at(0.0, up)[0] - at(0.0, down)[0]) / 2e-6
        np.testing.assert_allclose(found, expected, rtol=0, atol=1e-3 * np.abs(expected).max())


def test_both_ways_to_compute_a_decay_agree() -> None:
    least = KNOTS_S[-1] / LARGEST_EXPONENT
    t, tau = np.linspace(-0.01, 0.3, 200)[None], np.array([[least * (1 - 1e-6)], [least * (1 + 1e-6)]])
    two = np.repeat(t, 2, axis=0)
    direct, product = (
        basis(two[k : k + 1], np.zeros(1), tau[k : k + 1], lags_s=np.zeros(1), scale_s=np.full(1, 0.02))[0]
        for k in range(2)
    )
    np.testing.assert_allclose(direct, product, rtol=0, atol=1e-6)


def test_an_average_is_the_mean_of_delayed_responses() -> None:
    t, scale = np.linspace(-0.02, 0.1, 40)[None], np.full(1, 0.02)
    shape = ResponseShape(n_poles=1, n_average=3)
    tau = np.array([[0.003]])
    found = basis(t, np.zeros(1), tau, lags_s=shape.lags() * INTERVAL_S, scale_s=scale)
    parts = [basis(t - k * INTERVAL_S, np.zeros(1), tau, lags_s=np.zeros(1), scale_s=scale) for k in range(3)]
    np.testing.assert_allclose(found, np.mean(parts, axis=0), rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("n_poles", "n_average", "name"),
    [(0, 1, "none"), (1, 1, "one_pole"), (2, 1, "two_pole"), (0, 3, "average"), (1, 3, "pole_average")],
)
def test_names_of_the_candidates(n_poles: int, n_average: int, name: str) -> None:
    assert ResponseShape(n_poles=n_poles, n_average=n_average).name == name


def test_gradient_is_the_objectives_slope() -> None:
    batch, _ = kinked((0.004, 0.005, 0.003, 0.006), noise=3e-4, n_flicks=4)
    prior = replace(rim_of(RIM_PRIORS[3], 4), outward=np.full((4, N_MOTION), 1e-3)).prior(batch.angle_rad)
    tau = np.full((N_GROUPS, 1), 0.0042)
    contact = np.full(4, 2e-4)
    at = linearise(batch, ONE_POLE, contact, tau, prior)

    def objective(c: np.ndarray, tau_s: np.ndarray) -> np.ndarray:
        return linearise(batch, ONE_POLE, c, tau_s, prior).objective

    step = 1e-6
    slope = (objective(contact + step, tau) - objective(contact - step, tau)) / (2 * step)
    np.testing.assert_allclose(-2 * at.gradient[:, 0], slope, rtol=1e-3, atol=1e-3 * np.abs(slope).max())
    group = int(batch.group[0])
    up, down = tau.copy(), tau.copy()
    up[group], down[group] = tau[group] * (1 + 1e-4), tau[group] * (1 - 1e-4)
    slope = (objective(contact, up) - objective(contact, down)) / 2e-4
    assert -2 * at.gradient[0, 1] == pytest.approx(slope[0], rel=1e-3)


def test_hessian_is_a_sum_of_squares() -> None:
    batch, contact = kinked((0.03, 0.03, 0.03, 0.03), n_flicks=4)
    prior = rim_of(RIM_PRIORS[1], 4).prior(batch.angle_rad)
    at = linearise(batch, ONE_POLE, contact, np.full((N_GROUPS, 1), 0.03), prior)
    eigenvalues = np.linalg.eigvalsh(at.hessian / at.hessian.max(axis=(1, 2), keepdims=True))
    assert np.all(eigenvalues > -1e-12)


def test_time_constants_and_contacts_come_back_from_clean_flicks() -> None:
    taus = (0.004, 0.0055, 0.002, 0.008)
    batch, contacts = kinked(taus)
    found = fitted(batch)
    # clean to 1e-5 of full throw: the kink moves by 1e-5 / speed, the time constant by about as much
    np.testing.assert_allclose(found.tau_s[:, 0], taus, rtol=2e-3)
    np.testing.assert_allclose(found.contact_s, contacts, rtol=0, atol=1e-5)


def test_groups_without_flicks_stay_where_they_were() -> None:
    batch, _ = kinked((0.004, 0.0055, 0.002, 0.008))
    silent = replace(batch, weight=np.where(batch.group[:, None] == 2, 0.0, batch.weight))
    found = fitted(silent)
    assert found.tau_s[2, 0] == pytest.approx(0.004)
    assert found.tau_s[3, 0] == pytest.approx(0.008, rel=2e-3)


def test_contacts_settle_with_the_time_constants_held() -> None:
    taus = (0.004, 0.004, 0.004, 0.004)
    batch, contacts = kinked(taus)
    prior = rim_of(RIM_PRIORS[0], batch.n_flicks).prior(batch.angle_rad)
    settled, objective = settle_contacts(
        batch,
        ONE_POLE,
        np.full(batch.n_flicks, 1.5e-3),
        np.full((N_GROUPS, 1), 0.004),
        prior,
        8,
    )
    np.testing.assert_allclose(settled, contacts, rtol=0, atol=2e-5)
    assert objective.shape == (batch.n_flicks,)


def test_a_stiff_rim_is_chosen_for_flicks_that_stop_dead() -> None:
    taus = (0.004, 0.004, 0.004, 0.004)
    batch, contacts = kinked(taus, noise=2e-4)
    info, pull = moments(batch, ONE_POLE, contacts, np.full((N_GROUPS, 1), 0.004))
    stiff = rim_of(RIM_PRIORS[0], batch.n_flicks)
    rim = best_rim(info, pull, batch.angle_rad, stiff.tangential)
    np.testing.assert_allclose(rim.radial, stiff.radial, rtol=1e-9)
    np.testing.assert_allclose(rim.tangential, stiff.tangential, rtol=1e-9)


def test_sliding_is_told_from_giving_by_its_direction() -> None:
    batch, contacts = kinked((0.004,) * 4, noise=2e-4)
    s = batch.t_s - np.repeat(contacts, 2)[:, None]
    slid = 0.02 * np.clip(s / 0.02, 0.0, 1.0) * np.tile([-1.0, 1.0], batch.n_flicks)[:, None]
    moved = replace(batch, y=batch.y + slid)
    info, pull = moments(moved, ONE_POLE, contacts, np.full((N_GROUPS, 1), 0.004))
    rim = best_rim(info, pull, batch.angle_rad, rim_of(RIM_PRIORS[0], batch.n_flicks).tangential)
    along, across = (np.sqrt(np.linalg.inv(part)[:, -1, -1]) for part in (rim.tangential, rim.radial))
    assert np.all(along > 3 * across)


def test_spread_of_the_fit_is_the_cramer_rao_bound_of_its_own_curvature() -> None:
    check_bound(n_fits=10, low=0.75, high=1.25)


@pytest.mark.full
def test_spread_of_the_fit_is_the_cramer_rao_bound_over_3000_flicks() -> None:
    # band as for a one-pole edge with known input in S. Kay, Estimation Theory (1993), ch. 3 (from memory)
    check_bound(n_fits=375, low=0.95, high=1.10)


def check_bound(n_fits: int, low: float, high: float) -> None:
    pulls = []
    for seed in range(n_fits):
        batch, _ = kinked((0.004,) * 4, noise=5e-4, seed=seed, n_flicks=4)
        nothing = np.broadcast_to(1e10 * np.eye(N_MOTION), (4, N_MOTION, N_MOTION))
        found = fitted(batch, Rim(radial=nothing, tangential=nothing, outward=np.zeros((4, N_MOTION))))
        bound = np.sqrt(np.diag(np.linalg.inv(found.information)))
        pulls.append(np.log(found.tau_s[:, 0] / 0.004) / bound)
    assert low < float(np.std(pulls)) < high


def test_the_volume_of_a_prior_does_not_depend_on_the_direction() -> None:
    prior = rim_of(RIM_PRIORS[3], 3).prior(np.array([0.1, 0.7, 1.2]))
    np.testing.assert_allclose(prior.volume, np.linalg.slogdet(prior.precision)[1], rtol=1e-9)


@pytest.mark.parametrize(
    ("give", "bounce"), [((0.01, 0.02), (0.0, 0.0, 0.0)), ((0.0, 0.0), (0.01, 60.0, 0.4))], ids=["give", "bounce"]
)
def test_a_component_of_known_sign_is_as_large_as_said_to_half_of_it(
    give: tuple[float, float], bounce: tuple[float, float, float]
) -> None:
    mean, covariance = component_motion(give, bounce, 0.0)
    size = float(np.linalg.norm(mean))
    along = mean / size
    assert 0.45 < np.sqrt(along @ covariance @ along) / size < 0.6
