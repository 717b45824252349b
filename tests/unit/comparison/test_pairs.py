"""Several specimens before and after one change: who is a replicate, who is refused, what a bound can say."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.comparison import Plan, compare_paired_states
from feelcheck.comparison.pairs import SpecimenPair, compare_pairs
from feelcheck.errors import NotComparableError, NotEnoughDataError
from feelcheck.model import Comparison, Condition, Estimate, HandRecord, Margin, MetricComparison, Profile, StateRecord
from feelcheck.profiles import write_profile
from feelcheck.renderers.compare_text import compare_text

FIXED = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.001)})
TREES = ("alder", "birch", "cedar", "elm", "fir", "hazel", "larch", "maple", "oak", "pine", "rowan", "willow")


def session(value_ms: float, *, state: str = "as_found", bound: bool = False, **facts: str) -> HandRecord:
    estimate = Estimate.measured("smoothing_delay", value_ms / 1e3, u=5e-5, unit="s", n=12, dof=11)
    if bound:
        estimate = Estimate.at_most("smoothing_delay", value_ms / 1e3, unit="s")
    return HandRecord(
        session=f"{state}-{value_ms}",
        state=state,
        condition=Condition(facts=facts),
        axes={"left_x": {"rising": {"smoothing_delay": estimate}}},
    )


def pairs(before_ms: Sequence[float], after_ms: Sequence[float], *, bound: bool = False) -> list[SpecimenPair]:
    return [
        SpecimenPair(specimen=name, before=[session(b), session(b)], after=[session(a, bound=bound)] * 2)
        for name, b, a in zip(TREES, before_ms, after_ms, strict=False)
    ]


def judged(*values: Sequence[float], plan: Plan = FIXED, bound: bool = False) -> MetricComparison:
    (row,) = compare_pairs(pairs(*values, bound=bound), candidate_name="c3_lifted", state="c3_lifted", plan=plan)
    return row


def recorded(states_ms: Mapping[str, float]) -> list[HandRecord]:
    return [session(value + shift, state=state) for state, value in states_ms.items() for shift in (0.0, 0.02)]


def test_specimens_that_differ_widely_show_a_small_common_change() -> None:
    row = judged([2.0, 6.0, 15.0, 30.0], [4.0, 8.1, 17.0, 31.9])
    assert (row.verdict, row.scope, row.difference.n) == ("different", "specimen", 4)
    assert row.difference.value == pytest.approx(2.0e-3, abs=1e-6)
    assert [own.specimen for own in row.pairs] == list(TREES[:4])
    assert row.pairs[2].candidate.value == pytest.approx(0.017)


def test_more_sessions_of_one_specimen_are_no_more_specimens() -> None:
    few = pairs([5.0, 9.0], [7.0, 12.0])
    many = [SpecimenPair(specimen=p.specimen, before=[*p.before] * 9, after=[*p.after] * 9) for p in few]
    row = compare_pairs(many, candidate_name="b", state="b", plan=FIXED)[0]
    assert (row.difference.n, row.difference.dof, row.verdict) == (2, 1, "undecided")


def test_a_change_inside_the_margin_is_equivalent() -> None:
    row = judged([2.0, 6.0, 15.0, 30.0], [2.1, 6.0, 15.1, 30.0])
    assert row.verdict == "equivalent"
    assert "each specimen counts once" in row.why


def test_signed_ranks_stand_beside_seven_pairs_and_more() -> None:
    before = np.linspace(4.0, 20.0, 8)
    assert judged(before[:6].tolist(), (before[:6] + 2.0).tolist()).p_ranks is None
    assert judged(before.tolist(), (before + 2.0 + 0.01 * before).tolist()).p_ranks == pytest.approx(2 / 2**8)


def test_fifteen_specimens_ask_the_bootstrap_too() -> None:
    many = np.linspace(3.0, 40.0, len(TREES))
    assert judged(many.tolist(), (many + 2.0).tolist()).bootstrap90 is None
    names = [SpecimenPair(specimen=str(k), before=[session(5.0)], after=[session(7.0 + 0.01 * k)]) for k in range(16)]
    row = compare_pairs(names, candidate_name="b", state="b", plan=FIXED)[0]
    assert row.bootstrap90 is not None
    assert row.bootstrap90[0] < (row.difference.value or 0.0) < row.bootstrap90[1]


def test_bounds_after_the_change_decide_by_the_worst_case() -> None:
    row = judged([9.0, 12.0, 11.0, 10.0], [0.4] * 4, bound=True)
    assert (row.verdict, row.difference.status) == ("different", "at_most")
    assert (row.difference.bound or 0.0) < -5e-3
    assert (row.low90 or 0.0) < -0.0105 < (row.high90 or -1.0)
    assert row.why.endswith("only a bound from alder, birch, cedar, elm")
    assert judged([1.0, 1.1, 1.0, 1.1], [0.9] * 4, bound=True).verdict == "undecided"


def test_a_specimen_that_does_not_answer_is_named() -> None:
    silent = SpecimenPair(specimen="yew", before=[session(5.0)], after=[HandRecord(session="s")])
    everyone = [*pairs([5.0, 6.0, 7.0], [8.0, 9.1, 10.0]), silent]
    (row,) = compare_pairs(everyone, candidate_name="b", state="b", plan=FIXED)
    assert row.difference.n == 3
    assert row.why.endswith("no answer from yew")


def test_unmatched_specimens_are_refused_by_name() -> None:
    records = {"alder": recorded({"as_found": 5, "c3_lifted": 2}), "elm": recorded({"as_found": 5})} | {"fir": []}
    with pytest.raises(NotEnoughDataError, match="elm: no hand session in c3_lifted") as refused:
        compare_paired_states(records, before="as_found", after="c3_lifted", plan=FIXED)
    assert "alder" not in refused.value.facts
    assert "fir" in refused.value.facts


def test_unlike_states_of_one_specimen_are_refused_with_its_name() -> None:
    unlike = SpecimenPair(
        specimen="cedar", before=[session(5.0, connection="cable")], after=[session(5.0, connection="radio")]
    )
    with pytest.raises(NotComparableError, match="cedar"):
        compare_pairs([unlike, *pairs([5.0], [5.0])], candidate_name="b", state="b", plan=FIXED)


def test_a_sham_of_every_specimen_tells_reassembly_apart() -> None:
    found = compare_paired_states(
        {
            name: recorded({"as_found": 5.0 + k, "sham": 5.5 + k + 0.01 * k, "c3_lifted": 9.0 + k - 0.02 * k})
            for k, name in enumerate(TREES[:4])
        },
        before="as_found",
        after="c3_lifted",
        plan=FIXED,
    )
    values = [rows[0].difference.value for rows in (found.change, found.reassembly, found.change_beyond_reassembly)]
    assert values == pytest.approx([3.97e-3, 0.515e-3, 3.455e-3])
    assert found.caveats == ()


def test_a_sham_that_one_specimen_lacks_is_no_sham() -> None:
    records = {
        "alder": recorded({"as_found": 5, "sham": 5, "c3_lifted": 2}),
        "elm": recorded({"as_found": 5, "c3_lifted": 2}),
    }
    found = compare_paired_states(records, before="as_found", after="c3_lifted", plan=FIXED)
    assert found.reassembly == ()
    assert found.caveats[0].code == "reassembly_confounded"


def test_reassembly_is_told_beside_the_change() -> None:
    records = {
        "alder": recorded({"as_found": 5, "sham": 5.1, "b": 9}),
        "elm": recorded({"as_found": 6, "sham": 6, "b": 9}),
    }
    found = compare_paired_states(records, before="as_found", after="b", plan=FIXED)
    rows = [replace(row, candidate_name="reassembly alone") for row in found.reassembly]
    text = compare_text(Comparison(baseline="as_found", candidates=("b",), metrics=(*found.change, *rows)))
    assert "\nreassembly alone against as_found\n" in text
    assert "left_x rising: alder 5.01" in text


def records_on_disk(folder: Path) -> list[str]:
    paths = []
    for k, name in enumerate(TREES[:3]):
        path = folder / f"{name}.toml"
        hand = recorded({"as_found": 5.0 + 4 * k, "c3_lifted": 2.0 + 4 * k + 0.01 * k})
        write_profile(Profile(specimen=name, states=(StateRecord(name="c3_lifted"),), hand=tuple(hand)), path)
        paths.append(str(path))
    return paths


def test_the_command_takes_records_and_two_states(tmp_path: Path) -> None:
    paths = records_on_disk(tmp_path)
    run = CliRunner().invoke(app, ["compare", *paths, "--paired", "as_found", "c3_lifted", "--json"])
    assert run.exit_code == 0, run.output
    document = json.loads(run.stdout)
    assert (document["baseline"], document["candidates"]) == ("as_found (alder, birch, cedar)", ["c3_lifted"])
    (row,) = document["metrics"]
    assert (row["verdict"], row["scope"]) == ("different", "specimen")
    assert [pair["specimen"] for pair in row["pairs"]] == ["alder", "birch", "cedar"]
    assert {rate["kind"] for rate in document["rates"]} == {"paired"}


@pytest.mark.parametrize(
    ("twice", "states", "said"),
    [
        (True, ("as_found", "c3_lifted"), "alder: named 2 times"),
        (False, ("as_found", "as_found"), "states: as_found and as_found"),
        (False, ("as_found", "sanded"), "birch: no hand session in sanded"),
    ],
)
def test_the_command_refuses_what_is_no_pair(tmp_path: Path, twice: bool, states: tuple[str, str], said: str) -> None:
    paths = records_on_disk(tmp_path)
    run = CliRunner().invoke(app, ["compare", *paths, *paths[: int(twice)], "--paired", *states])
    assert (run.exit_code, run.stdout) == (2, "")
    assert said in run.stderr
