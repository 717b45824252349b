"""A record written and read again is the same record, and its JSON says the same numbers."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feelcheck.model import (
    BenchRecord,
    Caveat,
    Condition,
    Estimate,
    HandRecord,
    Part,
    Profile,
    SensorFound,
    StateRecord,
    Status,
)
from feelcheck.profiles import read_profile, write_profile
from feelcheck.renderers._json import encoded
from feelcheck.renderers.profile_text import profile_json

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)
NAMES = st.text("abcdefgh_123", min_size=1, max_size=8)
FARADS = st.floats(1e-12, 1e-3)
POSITIVE = st.floats(1e-9, 1e6)
CAVEATS = st.lists(st.builds(Caveat, code=NAMES, text=WORDS, advice=WORDS), max_size=2).map(tuple)


@st.composite
def estimates(draw: Any, quantity: str = "q") -> Estimate:
    status = draw(st.sampled_from(Status))
    unit, n = draw(st.sampled_from(["s", "V", "fraction", ""])), draw(st.integers(0, 50))
    if status is Status.OK:
        scale = draw(st.sampled_from(["linear", "log"]))
        value = draw(POSITIVE) if scale == "log" else draw(st.floats(-1e6, 1e6))
        dof = draw(st.one_of(st.just(math.inf), st.floats(0.5, 100.0)))
        return Estimate.measured(quantity, value, u=draw(st.floats(0, 1e3)), unit=unit, n=n, dof=dof, scale=scale)
    bound = draw(st.floats(-1e6, 1e6)) if status in (Status.AT_MOST, Status.AT_LEAST) else None
    return Estimate(quantity=quantity, unit=unit, status=status, bound=bound, n=n, caveats=draw(CAVEATS))


def named() -> st.SearchStrategy[dict[str, Estimate]]:
    return st.lists(NAMES, max_size=2, unique=True).flatmap(
        lambda names: st.fixed_dictionaries({name: estimates(name) for name in names})
    )


PARTS = st.builds(
    Part, position=NAMES, role=st.just("capacitor"), value=FARADS, unit=st.just("F"), axis=NAMES, dielectric=WORDS,
    tolerance_fraction=st.one_of(st.none(), st.floats(0, 0.5)), fitted=st.booleans(),
)  # fmt: skip
BENCH = st.builds(
    BenchRecord, axis=NAMES, sha256=NAMES, directions=st.dictionaries(st.sampled_from(["rising", "falling"]), named()),
    overall=named(), models=st.dictionaries(NAMES, NAMES, max_size=2), simulated=st.booleans(), caveats=CAVEATS,
)  # fmt: skip
HAND = st.builds(
    HandRecord, session=WORDS, date=WORDS, release=named(),
    axes=st.dictionaries(NAMES, st.dictionaries(st.sampled_from(["", "rising"]), named(), max_size=2), max_size=2),
    condition=st.builds(
        Condition, facts=st.dictionaries(NAMES, WORDS, max_size=2), operator=WORDS,
        mounting=st.one_of(st.none(), st.integers(0, 9)),
    ),
    report_interval=st.one_of(st.none(), estimates("report_interval")),
)  # fmt: skip
PROFILES = st.builds(
    Profile, specimen=NAMES, pad=WORDS, notes=WORDS, photos=st.lists(WORDS, max_size=2).map(tuple),
    polarity=st.dictionaries(NAMES, st.sampled_from([1, -1]), max_size=2),
    sensor=st.builds(SensorFound, marking=WORDS, supply_v=st.one_of(st.none(), POSITIVE)),
    parts=st.lists(PARTS, max_size=2).map(tuple), bench=st.lists(BENCH, max_size=2).map(tuple),
    hand=st.lists(HAND, max_size=2).map(tuple),
    states=st.lists(
        st.builds(StateRecord, name=NAMES, note=WORDS, undone=st.booleans(),
                  changes=st.dictionaries(NAMES, st.just("lifted"), max_size=2)), max_size=2
    ).map(tuple),
)  # fmt: skip


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(profile=PROFILES)
def test_what_is_written_is_read_back(profile: Profile, tmp_path_factory: pytest.TempPathFactory) -> None:
    file = tmp_path_factory.mktemp("records") / "r.toml"
    write_profile(profile, file)
    found = read_profile(file)
    for name in ("specimen", "pad", "notes", "photos", "polarity", "sensor", "parts", "states", "bench", "hand"):
        assert getattr(found, name) == getattr(profile, name), name
    assert found.path == str(Path(file))
    document = json.loads(profile_json(found))
    assert [part["value"] for part in document["parts"]] == [part.value for part in profile.parts]
    assert [state["name"] for state in document["states"]] == [state.name for state in profile.states]


@settings(max_examples=60)
@given(estimate=estimates())
def test_json_says_of_an_estimate_what_its_status_allows(estimate: Estimate) -> None:
    record = json.loads(json.dumps(encoded(estimate), allow_nan=False))
    factor, unit = (1e3, "ms") if estimate.unit == "s" else (1.0, estimate.unit)
    assert Status(record["status"]) is estimate.status
    assert (record["unit"], record["n"], len(record["caveats"])) == (unit, estimate.n, len(estimate.caveats))
    known = {name for name in ("value", "low", "high", "u") if record[name] is not None}
    told = {Status.OK: {"value", "u"}, Status.AT_MOST: {"high"}, Status.AT_LEAST: {"low"}}.get(estimate.status, set())
    assert told <= known
    if estimate.status is Status.OK:
        assert record["value"] == pytest.approx(factor * (estimate.value or 0.0), rel=1e-8)
        if {"low", "high"} <= known:
            assert record["low"] <= record["value"] <= record["high"]
    else:
        assert known == told
