"""The spread of specimens is given to the link it was put into."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.comparison.spread import SpecimenDelays, explain_spread
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Estimate


def ms(value: float, u: float = 0.02) -> Estimate:
    return Estimate.measured("smoothing_delay", value / 1e3, u=u / 1e3, unit="s")


def specimens(parts_sd: float, sensor_sd: float, pad_sd: float, seed: int = 4) -> list[SpecimenDelays]:
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(12):
        parts = 6 + rng.normal(0, parts_sd)
        bench = parts + 0.3 + rng.normal(0, sensor_sd)
        hand = bench + rng.normal(0, pad_sd)
        rows.append(SpecimenDelays(name=str(number), parts=ms(parts), bench=ms(bench), hand=ms(hand)))
    return rows


@pytest.mark.parametrize(
    ("spread", "source"),
    [((1.0, 0.1, 0.1), "filter_parts"), ((0.1, 1.0, 0.1), "sensor"), ((0.1, 0.1, 1.0), "converter_and_firmware")],
)
def test_the_link_that_varies_has_most_of_the_variance(spread: tuple[float, float, float], source: str) -> None:
    shares = {share.source: share.share_fraction for share in explain_spread(specimens(*spread))}
    assert max(shares, key=lambda name: shares[name]) == source
    assert shares[source] > 0.8
    assert sum(shares.values()) == pytest.approx(1.0)


def test_noise_alone_is_given_to_the_measuring() -> None:
    rng = np.random.default_rng(9)
    rows = [
        SpecimenDelays(
            name=str(k), parts=ms(6.0), bench=ms(6.3 + rng.normal(0, 0.02)), hand=ms(6.3 + rng.normal(0, 0.5), 0.5)
        )
        for k in range(40)
    ]
    shares = {share.source: share.share_fraction for share in explain_spread(rows)}
    assert shares["measurement"] > 0.6


def test_too_few_specimens_are_refused() -> None:
    rows = specimens(1.0, 0.1, 0.1)[:2]
    with pytest.raises(NotEnoughDataError, match="three specimens"):
        explain_spread(rows)
