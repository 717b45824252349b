"""The page: self-contained, escaped, complete, small."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np

from feelcheck.model import (
    AxisResult,
    Caveat,
    ChainLink,
    Comparison,
    DirectionResponse,
    Estimate,
    EvidenceNote,
    FeelAxis,
    FeelResult,
    HandRecord,
    HandResult,
    Part,
    Play,
    Profile,
    Provenance,
    Recording,
    Report,
    StateRecord,
    TimingResult,
    Trace,
)
from feelcheck.renderers.report import report_html, report_tables

HOSTILE = '</script><img src=x onerror="alert(1)">{{ 7*7 }}&\'"'


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.data = ""
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag == "script" and dict(attrs).get("id") == "feelcheck-data"

    def handle_endtag(self, tag: str) -> None:
        self._inside = False

    def handle_data(self, data: str) -> None:
        self.data += data if self._inside else ""


def _parsed(text: str) -> _Page:
    page = _Page()
    page.feed(text)
    page.close()
    return page


def _none(quantity: str, unit: str = "s") -> Estimate:
    return Estimate.not_resolved(quantity, unit=unit)


def _axis(name: str) -> AxisResult:
    delay = Estimate.measured("smoothing_delay", 0.01, u=2e-4, unit="s")
    response = DirectionResponse(
        time_constant=delay, transition_10_90=_none("transition_10_90"), smoothing_delay=delay, mean_delay=delay
    )
    error = Estimate.measured("direction_error", 2.1, u=0.4, unit="deg")
    return AxisResult(
        name=name, quantization_step=_none("quantization_step", "counts"), resolution=_none("resolution", "bits"),
        rest_noise=_none("rest_noise", "counts"), return_error=_none("return_error", "fraction"),
        dead_zone=_none("dead_zone", "fraction"), update_interval=_none("update_interval"), polarity=None,
        rising=response, falling=response, asymmetry=_none("asymmetry", "ratio"), extra={"direction_error": error},
    )  # fmt: skip


def _hand(*traces: Trace, specimen: str = "birch") -> HandResult:
    return HandResult(
        recording=Recording(streams=(), provenance=Provenance(specimen=specimen, sha256="ab12")),
        n_reports=10, duration_s=1.0,
        timing=TimingResult(
            report_interval=_none("report_interval"), host_jitter=_none("host_jitter"),
            lost_report_fraction=_none("lost_report_fraction", "fraction"),
        ),
        axes={"x": _axis("x")}, release={}, flicks=(), caveats=(), traces=traces,
    )  # fmt: skip


def _long_session() -> HandResult:
    """Two minutes at 8 kHz: as many points as such a session puts behind each figure."""
    n = 8000 * 120
    rng = np.random.default_rng(0)
    t_s = np.arange(n) / 8000
    flick = {"t_s": t_s[:4000], "measured_fs": rng.random(4000), "model_fs": np.linspace(0, 0.7, 4000)}
    rest = {"t_s": t_s, "reading": rng.standard_normal(n), "averaging_s": t_s[1:20], "allan_deviation": t_s[1:20]}
    flicks = [Trace(kind="flick", axis="x", arrays=flick, labels={"direction": "rising"}) for _ in range(60)]
    return _hand(
        *flicks,
        Trace(kind="rest", axis="x", arrays=rest),
        Trace(kind="intervals", axis="x", arrays={"report_interval_s": rng.gamma(50, 2e-6, n)}),
        Trace(kind="lattice", axis="x", arrays={"level": np.arange(60000), "n_reports": np.ones(60000)}),
    )


def test_names_of_the_user_cannot_become_markup_or_script() -> None:
    text = report_html(Report(title=HOSTILE, hand=(_hand(specimen=HOSTILE),), provenance={"seed": HOSTILE}))
    page = _parsed(text)
    assert not [tag for tag, _ in page.tags if tag == "img"]
    assert sum(tag == "script" for tag, _ in page.tags) == 2
    assert json.loads(page.data)["title"] == HOSTILE
    assert "{{ 7*7 }}" in text


def test_hostile_names_stay_words_inside_figures_too() -> None:
    trace = Trace(
        kind="flick", axis=HOSTILE,
        arrays={"t_s": np.arange(3.0), "measured_fs": np.arange(3.0), "model_fs": np.arange(3.0)},
        labels={"direction": "rising"},
    )  # fmt: skip
    page = _parsed(report_html(Report(title="t", hand=(_hand(trace),))))
    assert [tag for tag, _ in page.tags if tag == "svg"]
    assert not [tag for tag, _ in page.tags if tag == "img"]


def test_the_page_asks_nothing_of_the_network() -> None:
    page = _parsed(report_html(Report(title="t", hand=(_hand(),))))
    for tag, attributes in page.tags:
        for name in ("src", "href", "xlink:href", "data", "action"):
            value = attributes.get(name) or ""
            assert value.startswith(("#", "data:")) or not value, (tag, value)


def test_a_long_session_stays_small_and_figures_have_words() -> None:
    text = report_html(Report(title="t", hand=(_long_session(),)))
    assert len(text.encode()) < 5_000_000
    page = _parsed(text)
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    figures = [attributes for tag, attributes in page.tags if tag == "svg"]
    assert len(figures) == 5
    for figure in figures:
        assert figure["role"] == "img"
        assert set((figure["aria-labelledby"] or "").split()) <= set(ids)


def test_a_page_without_results_says_so_and_holds_no_empty_sections() -> None:
    text = report_html(Report(title="Loaner pads"))
    found = [attributes.get("id") for tag, attributes in _parsed(text).tags if tag == "section"]
    assert found == ["summary", "cautions", "methods", "provenance"]
    assert "Nothing has been measured yet." in text


def test_details_fold_by_specimen_where_there_are_several_and_one_alone_stands_open() -> None:
    told: list[str] = []
    both = Report(title="t", hand=(_hand(specimen="alder"), _hand(specimen="birch")))
    several = _parsed(report_html(both, say=told.append)).tags
    assert told == ["drawing alder, 1 of 2", "drawing birch, 2 of 2", "drawing all side by side"]
    folds = {attributes["id"]: attributes for tag, attributes in several if tag == "details"}
    assert list(folds) == ["specimen-1", "specimen-2"]
    assert not any("open" in attributes for attributes in folds.values())
    ids = [attributes["id"] for _, attributes in several if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {"hand", "hand-2"} <= set(ids)
    alone = _parsed(report_html(Report(title="t", hand=(_hand(),)))).tags
    assert [attributes for tag, attributes in alone if tag == "details" and "open" in attributes]


def test_the_front_shows_every_specimen_in_one_picture_wide_and_narrow() -> None:
    front = report_html(Report(title="t", hand=(_hand(specimen="alder"), _hand(specimen="birch"))))
    front = front[front.index('id="summary"') : front.index("<details")]
    assert re.findall(r'<figure class="(\w+)"', front) == ["wide", "narrow"]
    for name in ("alder", "birch"):
        assert f"<strong>{name}.</strong> In the hand" in front
        assert f"{name}, x, hand: rising 10.00 ms" in front


def test_cross_axis_chain_and_hashes_are_on_the_page() -> None:
    delay = Estimate.measured("smoothing_delay", 0.009, u=1e-4, unit="s")
    link = ChainLink(
        specimen="birch", axis="x", state="as_found", direction="rising", link="bench-hand", predicted=delay,
        measured=delay, difference=delay, margin=0.001, verdict="agree",
    )  # fmt: skip
    text = report_html(
        Report(
            title="t", hand=(_hand(),), comparison=Comparison(baseline="a", candidates=(), metrics=(), chain=(link,))
        )
    )
    assert re.search(r"<td[^>]*>2\.10 deg \(1\.\d+ to 2\.\d+\)</td>", text)
    assert "ab12" in text
    assert "bench to hand agree" in text


def test_parts_timeline_and_photos_of_a_record_are_on_the_page() -> None:
    profile = Profile(
        specimen="cedar", pad="loaner 5", path="profiles/cedar.toml", photos=("photos/cedar_board.jpg",),
        parts=(Part(position="c3", role="capacitor", value=1e-6, unit="F", axis="left_x", tolerance_fraction=0.1),),
        states=(StateRecord(name="c3_lifted", date="2026-11-20", changes={"c3": "lifted"}, note="looked clean"),),
        hand=(HandRecord(session="s", state="c3_lifted"),),
    )  # fmt: skip
    text = report_html(Report(title="t", profiles=(profile,)))
    for words in ("cedar_board.jpg", "1 uF", "± 10 %", "c3: lifted", "2026-11-20", "looked clean", "1 in the hand"):
        assert f">{words}<" in text, words
    assert "photos/" not in text.partition("<script")[0]


def test_what_bounds_a_number_in_use_stands_on_the_page_once_with_its_specimens() -> None:
    untested = Caveat(code="speed_untested", text="There the picture moves at 0.6 deg/s.")
    deflection = Estimate.measured("steady_speed_step_below", 0.01, u=1e-4, unit="fraction", caveats=(untested,))
    note = EvidenceNote(
        key="k", text="The difference lies below 55 ms: 55 ms was told (indirect touchpad).", citation="Somebody 2015",
        device="indirect touchpad", varied="pure delay", extrapolated=True,
    )  # fmt: skip
    axis = FeelAxis(
        axis="left_x", state="as_found", origin="hand", plane="left_right",
        estimates={"steady_speed_step_below": deflection}, notes=(note,),
    )  # fmt: skip
    feel = tuple(FeelResult(specimen=name, play=Play(), axes=(axis,)) for name in ("birch", "cedar"))
    text = report_html(Report(title="t", feel=feel)).partition('<script type="application/json"')[0]
    assert text.count("There the picture moves at 0.6 deg/s.") == 1
    assert "birch, cedar: There the picture moves at 0.6 deg/s. (About: one step changes the speed by over 7 %" in text
    assert text.count("55 ms was told") == 1
    for cell in ("birch, cedar", "outside", "indirect touchpad", "pure delay", "Somebody 2015"):
        assert f"<td>{cell}</td>" in text, cell


def test_the_main_tables_are_there_as_delimited_text() -> None:
    carry = Estimate.measured("carry_on_after_release", 2.8, u=0.1, unit="deg")
    axis = FeelAxis(
        axis="left_x", state="as_found", origin="hand", plane="left_right", estimates={"carry_on_after_release": carry}
    )
    found = report_tables(
        Report(title="t", hand=(_hand(),), feel=(FeelResult(specimen="birch", play=Play(), axes=(axis,)),))
    )
    assert set(found) == {"at_a_glance", "in_use"}
    header, first = list(csv.reader(found["in_use"].splitlines()))
    assert header == ["axis", "what", "birch"]
    assert first == ["left_x", "view turns on after letting go, code falling", "2.80 deg (2.60 to 3.00)"]
    glance = list(csv.reader(found["at_a_glance"].splitlines()))
    assert glance[0][:4] == ["specimen", "axis", "hand, code rising", "hand, code falling"]
    assert ["birch", "left_x", "not known", "not known", "2.80 deg (2.60 to 3.00)", "hand"] in glance


def test_a_remark_on_the_flicks_of_one_axis_names_that_axis() -> None:
    none = Caveat(code="no_flicks", text="No flick ran into the rim.")
    silent = replace(_none("smoothing_delay"), caveats=(none,))
    axis = _axis("right_x")
    still = replace(axis, rising=replace(axis.rising, smoothing_delay=silent))
    simulated = Caveat(code="simulated", text="This recording was simulated.")
    result = replace(_hand(), axes={"left_x": _axis("left_x"), "right_x": still}, caveats=(none, simulated))
    text = report_html(Report(title="t", hand=(result,))).partition('<script type="application/json"')[0]
    assert text.count("No flick ran into the rim.") == 1
    assert "<li>birch: No flick ran into the rim. (About: right_x.)</li>" in text
    assert "<li>birch: This recording was simulated.</li>" in text


def test_direction_errors_round_the_rim_are_on_the_page() -> None:
    error = Estimate.measured("rim_direction_error", 3.1, u=0.2, unit="deg")
    axis = replace(_axis("x"), extra={"rim_direction_error": error})
    text = report_html(Report(title="t", hand=(replace(_hand(), axes={"x": axis}),)))
    assert re.search(r"<td[^>]*>3\.10 deg \(2\.7\d to 3\.\d+\)</td>", text)
    assert "no straight flicks" in text
    assert "off by up to 3.10 deg" in text


def test_tables_sort_by_number_through_buttons_in_their_headers() -> None:
    text = report_html(Report(title="t", hand=(_hand(),)))
    page = _parsed(text)
    heads = [attributes for tag, attributes in page.tags if tag == "th"]
    assert heads
    assert all(attributes == {"scope": "col", "aria-sort": "none"} for attributes in heads)
    assert 'data-sort="10.0"' in text


def test_no_source_on_the_page_is_from_memory() -> None:
    assert "memory" not in report_html(Report(title="t"))


def test_cautions_defer_to_local_rules() -> None:
    text = report_html(Report(title="t"))
    for word in ("fume", "Hot air", "lithium", "voltage kick", "supply limits", "static", "stop at once on pain"):
        assert word in text
    assert "Local rules, the maker&#39;s instructions and licensed practice" in text
