"""`feelcheck why`: terms that add up, what decided, and a wrong name."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from typer.testing import CliRunner

from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.errors import FeelcheckError
from feelcheck.model import BenchResult, Estimate, HandResult
from feelcheck.model.numbers import Number, numbers_of
from feelcheck.model.why import Explained, Why
from feelcheck.pipeline import _why
from feelcheck.pipeline._hand import own_metrics
from feelcheck.renderers.why_text import shares, why_document, why_text

SHIPPED = Path(__file__).parents[3] / "demo_logs"
CAPTURE = SHIPPED / "birch_field_step.csv"
SESSION = SHIPPED / "birch_as_found"


@pytest.fixture(scope="module")
def hand() -> HandResult:
    return pipeline.analyze(SESSION)


@pytest.fixture(scope="module")
def bench() -> BenchResult:
    return pipeline.bench(CAPTURE)


def rooms() -> Iterator[ModuleType]:
    from feelcheck.bench import numbers as of_bench
    from feelcheck.comparison import numbers as of_comparison
    from feelcheck.hand import numbers as of_hand
    from feelcheck.numerics import numbers as of_numerics

    yield from (of_bench, of_comparison, of_hand, of_numerics)
    found = (getattr(metric, "numbers", None) for metric in own_metrics())
    yield from dict.fromkeys(room for room in found if room is not None)


@pytest.fixture(scope="module")
def source() -> dict[Path, str]:
    return {path: path.read_text() for path in (Path(pipeline.__file__).parents[1]).rglob("*.py")}


@pytest.fixture(scope="module")
def users(source: dict[Path, str]) -> dict[str, set[str]]:
    """The files in which each word of capitals stands."""
    found: dict[str, set[str]] = {}
    for path, text in source.items():
        for word in set(re.findall(r"[A-Z][A-Z0-9_]+", text)):
            found.setdefault(word, set()).add(str(path))
    return found


def test_every_uncertainty_tells_where_it_comes_from(hand: HandResult, bench: BenchResult) -> None:
    told = [e for _, e in (*_why._of_hand(hand), *_why._of_bench(bench)) if e.u]
    assert len(told) > 60
    assert not [e.quantity for e in told if not e.terms]


def test_a_name_means_one_number_wherever_it_may_decide() -> None:
    for own in (".hand.", ".bench."):
        alike = [room for room in rooms() if own in room.__name__ or ".numerics." in room.__name__]
        names = [name for room in alike for name in numbers_of(room)]
        assert len(names) == len(set(names))


def test_terms_add_up_to_u_wherever_they_are_told(hand: HandResult, bench: BenchResult) -> None:
    told = [e for _, e in (*_why._of_hand(hand), *_why._of_bench(bench)) if e.terms]
    assert len(told) > 30
    for estimate in told:
        assert math.hypot(*(term.u for term in estimate.terms)) == pytest.approx(estimate.u, rel=1e-9), estimate


@pytest.mark.parametrize(
    "quantity", ["smoothing_delay", "time_constant", "transition_10_90", "asymmetry", "rest_noise"]
)
def test_the_main_numbers_of_the_hand_are_told_by_term(
    quantity: str, hand: HandResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_why, "analyze", lambda _: hand)
    result = pipeline.why(SESSION, quantity, axis="left_x")
    assert all(one.estimate.u is None or len(one.estimate.terms) > 1 for one in result.numbers)
    assert sum(share for _, _, share in shares(result.numbers[0].estimate)) == pytest.approx(1.0)


def test_a_value_names_the_number_that_sets_its_largest_term(hand: HandResult, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_why, "analyze", lambda _: hand)
    result = pipeline.why(SESSION, "smoothing delay", axis="left_x", direction="rising")
    (one,) = result.numbers
    largest = shares(one.estimate)[0][0]
    decider = next(decider for decider in one.deciders if decider.sets == largest)
    assert decider.name == "MISFIT_SHARE"
    text = why_text(result)
    assert decider.command in text
    assert "2e-04" not in text
    assert "MISFIT_SHARE" in text


def test_a_limit_of_a_capture_tells_what_made_it_one(bench: BenchResult, monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace

    limit = Estimate.at_most("time_constant", 1e-4, unit="s", n=3).because("CHI2")
    assert bench.rising is not None
    short = replace(bench, rising=replace(bench.rising, time_constant=limit))
    monkeypatch.setattr(_why, "bench", lambda _: short)
    result = pipeline.why(CAPTURE, "time_constant", direction="rising")
    assert [decider.name for decider in result.numbers[0].deciders] == ["CHI2"]
    assert "Decided by CHI2" in why_text(result)
    assert why_document(result)["numbers"][0]["deciders"][0]["value"] == pytest.approx(3.8415, abs=1e-4)


def test_a_difference_tells_both_sides_and_its_level() -> None:
    result = pipeline.why("profiles/birch.toml", "smoothing_delay", against="profiles/alder.toml", direction="rising")
    judged = [one for one in result.numbers if one.compared is not None and one.compared.scope != "within_recording"]
    document = why_document(result)
    assert document["against"] == "profiles/alder.toml"
    assert all("verdict" in one and "margin" in one for one in document["numbers"])
    assert all(one.deciders for one in judged)
    assert any(len(one.estimate.terms) == 2 for one in result.numbers)


@pytest.mark.parametrize(
    ("words", "near"), [(["smothing_delay"], "smoothing_delay"), (["noise", "--axis", "sensr"], "Sensor")]
)
def test_a_wrong_name_tells_the_nearest(
    words: list[str], near: str, bench: BenchResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_why, "bench", lambda _: bench)
    run = CliRunner().invoke(app, ["why", str(CAPTURE), *words])
    assert run.exit_code == 2
    assert f"Did you mean {near}?" in run.stderr
    assert run.stdout == ""


def test_a_name_that_is_like_none_gets_no_guess(bench: BenchResult, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_why, "bench", lambda _: bench)
    run = CliRunner().invoke(app, ["why", str(CAPTURE), "zzz"])
    assert run.exit_code == 2
    assert "Name one of the known ones." in run.stderr
    assert "Did you mean" not in run.stderr


def test_the_interval_follows_from_u_as_it_is_told(hand: HandResult, bench: BenchResult) -> None:
    found = [e for _, e in (*_why._of_hand(hand), *_why._of_bench(bench))]
    told = [Explained(part="", axis="", direction="", estimate=one) for one in found]
    for one in why_document(Why(path="", quantity="", numbers=tuple(told)))["numbers"]:
        estimate, coverage = one["estimate"], one["coverage"]
        if coverage is None:
            continue
        value, reach = estimate["value"], coverage["k"] * estimate["u"]
        high = value * math.exp(reach / value) if coverage["scale"] == "log" else value + reach
        assert estimate["high"] == pytest.approx(high, rel=1e-5)
    few = Estimate.measured("delay", 0.003, u=0.001, unit="s", dof=3, scale="log")
    text = why_text(Why(path="", quantity="delay", numbers=(replace(told[0], estimate=few),)))
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2: t is 3.182 for three degrees, two-sided 95 %
    assert "times or over exp(k u / value); k = 3.18 covers 95 %, of 3 degrees of freedom." in text


def test_json_is_one_document(bench: BenchResult, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_why, "bench", lambda _: bench)
    run = CliRunner().invoke(app, ["why", str(CAPTURE), "time_constant", "--json"])
    assert run.exit_code == 0
    document = json.loads(run.stdout)
    assert document["schema"] == "feelcheck.why/1"
    assert [one["direction"] for one in document["numbers"]] == ["rising", "falling"]
    assert sum(term["share"] for term in document["numbers"][0]["terms"]) == pytest.approx(1.0)


def test_a_file_that_is_not_there_is_one_error() -> None:
    with pytest.raises(FeelcheckError, match="no such file"):
        pipeline.why("nowhere.csv", "time_constant")


def test_every_number_that_decides_has_unit_and_reason_and_is_used(users: dict[str, set[str]]) -> None:
    for room in rooms():
        found = numbers_of(room)
        assert found, room
        for name, number in found.items():
            assert number.unit, name
            assert len(number.reason) > 10, name
            assert users[name] - {room.__file__}, f"{name} of {room.__name__} decides nothing"


def test_words_that_a_number_sets_are_those_of_a_term(source: dict[Path, str]) -> None:
    text = "".join(source.values())
    for room in rooms():
        for name, number in numbers_of(room).items():
            if number.sets:
                written = text.count(f'"{number.sets}"') > 1
                assert written or f"{name}.sets" in text, name


def test_a_number_is_a_plain_float_once_pickled() -> None:
    import pickle

    limit = Number(0.3, "1", "a reason")
    assert type(pickle.loads(pickle.dumps(limit))) is float
