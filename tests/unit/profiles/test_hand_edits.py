"""Records are edited by hand: whatever a slip makes of one is refused by name, never a traceback later."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from feelcheck.errors import ProfileError
from feelcheck.model import Condition, Estimate, HandRecord, Part, Profile, StateRecord, Status
from feelcheck.profiles import add_state, read_profile, write_profile

HEAD = 'version = 1\nspecimen = "elm"\n'
RESISTOR = '[[parts]]\nposition = "r1"\nrole = "series_resistor"\nvalue = "4.7k"\nunit = "ohm"\naxis = "left_x"\n'
CAPACITOR = '[[parts]]\nposition = "c1"\nrole = "capacitor"\nvalue = "1u"\nunit = "F"\naxis = "left_x"\n'
DELAY = 'smoothing_delay = {unit = "s", status = "ok", value = 0.009, u = 0.0001, n = 4}\n'
HAND = f'[[hand]]\nsession = "s1"\n[hand.axes.left_x.rising]\n{DELAY}'


def read(text: str, tmp_path: Path) -> Profile:
    file = tmp_path / "elm.toml"
    file.write_text(text, encoding="utf-8")
    return read_profile(file)


def delay_of(found: Profile) -> Estimate:
    return found.hand[0].axes["left_x"]["rising"]["smoothing_delay"]


def test_what_the_slips_start_from_is_a_record(tmp_path: Path) -> None:
    found = read(HEAD + RESISTOR + CAPACITOR + HAND, tmp_path)
    assert [part.value for part in found.parts] == pytest.approx([4700.0, 1e-6])
    assert delay_of(found).value == 0.009


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (HEAD + CAPACITOR.replace('"1u"', "0"), "needs a value such as 4.7k"),
        (HEAD + CAPACITOR.replace('"1u"', '"much"'), "needs a value such as 4.7k"),
        (HEAD + CAPACITOR.replace('"1u"', "[1]"), "needs a value such as 4.7k"),
        (HEAD + CAPACITOR.replace('"1u"', "-1e-6"), "are not negative"),
        (HEAD + CAPACITOR.replace('"1u"', "nan"), "must be finite"),
        (HEAD + CAPACITOR.replace('"1u"', "inf"), "must be finite"),
        (HEAD + CAPACITOR + "tolerance_fraction = 1.0\n", "a tolerance is below 1"),
        (HEAD + CAPACITOR + "tolerance_fraction = -0.1\n", "a tolerance is below 1"),
        (HEAD + CAPACITOR.replace('unit = "F"', 'unit = "uF"'), "allowed: ohm, F"),
        (HEAD + CAPACITOR.replace('unit = "F"', 'unit = "ohm"'), "A capacitor is in F"),
        (HEAD + RESISTOR.replace('unit = "ohm"', 'unit = "F"'), "every other part in ohm"),
        (HEAD + CAPACITOR.replace('"capacitor"', '"hat"'), "allowed: pin_capacitor, series_resistor"),
        (HEAD + CAPACITOR + 'measured = "guess"\n', "allowed: marked, in_circuit"),
        (HEAD + CAPACITOR + 'fitted = "no"\n', "wrong kind"),
        (HEAD + CAPACITOR.replace('position = "c1"\n', ""), "(?s)key is missing.*key: position"),
        (HEAD + '[parts]\nposition = "c1"\n', "are a list"),
        (HEAD + "parts = 3\n", "are a list"),
        (HEAD + 'parts = ["c1"]\n', "is a table"),
        (HEAD + "states = 3\n", "are a list"),
        (HEAD + '[[states]]\nname = "a"\nchanges = "c1"\n', "wrong kind"),
        (HEAD + '[[states]]\nname = "a"\nchanges = {c1 = 5}\n', "wrong kind"),
        (HEAD + '[[states]]\nname = "a"\ndate = 2026-01-02\n', "wrong kind"),
        (HEAD + "polarity = [1]\n", "is a table"),
        (HEAD + "polarity = {left_x = 3}\n", "polarity is 1 or -1"),
        (HEAD + 'polarity = {left_x = "up"}\n', "polarity is 1 or -1"),
        (HEAD + 'photos = "elm.jpg"\n', "wrong kind"),
        (HEAD + "photos = [1, 2]\n", "wrong kind"),
        (HEAD + 'sensor = "hall"\n', "is a table"),
        (HEAD + "[sensor]\nsupply_v = -1.8\n", "are not negative"),
        (HEAD + '[sensor]\nsupply_v = "1.8 V"\n', "allowed: float"),
        (HEAD + "[sensor]\nsink_a = -5e-6\n", "are not negative"),
        (HEAD + "notes = 3\n", "wrong kind"),
        (HEAD.replace("1", '"one"'), "Update feelcheck"),
        (HEAD.replace("1", "1.5"), "Update feelcheck"),
        (HEAD.replace('specimen = "elm"\n', ""), "key: specimen"),
        (HEAD + 'specimen = "oak"\n', "no valid TOML"),
        (HEAD + '[[hand]]\nsession = "s1"\naxes = "left_x"\n', "is a table"),
        (HEAD + '[[hand]]\nsession = "s1"\naxes = {left_x = 3}\n', "is a table"),
        (HEAD + '[[hand]]\nsession = "s1"\naxes = {left_x = {rising = 3}}\n', "is a table"),
        (HEAD + '[[hand]]\nsession = "s1"\n[hand.condition]\nmounting = "two"\n', "wrong kind"),
        (HEAD + '[[hand]]\nsession = "s1"\n[hand.condition]\nfacts = {cap = 1}\n', "wrong kind"),
        (HEAD + HAND.replace('"ok"', '"fine"'), "one of five words"),
        (HEAD + HAND.replace('"s",', '"ms",'), "times in seconds"),
        (HEAD + HAND.replace("0.009", "inf"), "must be finite"),
        (HEAD + HAND.replace(", u = 0.0001", ""), "contradicts itself"),
        (HEAD + HAND.replace("n = 4", "n = 4, dof = 0"), "contradicts itself"),
        (HEAD + HAND.replace("n = 4", 'n = 4, scale = "cubic"'), "allowed: linear, log"),
        (HEAD + HAND.replace("n = 4", "n = true"), "wrong kind"),
        (HEAD + '[[bench]]\naxis = "left_x"\ndirections = {rising = 3}\n', "is a table"),
        (HEAD + '[[bench]]\naxis = "left_x"\noverall = 3\n', "is a table"),
        (HEAD + '[[bench]]\naxis = "left_x"\ncaveats = "none"\n', "are a list"),
        (HEAD + '[[bench]]\naxis = "left_x"\nmodels = {rising = 1}\n', "wrong kind"),
        (HEAD + "[feel]\ndrift = 3\n", "is a table"),
    ],
)  # fmt: skip
def test_a_slip_is_refused_with_the_file_named(text: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=message) as refused:
        read(text, tmp_path)
    assert str(refused.value.facts["file"]).endswith("elm.toml")


@pytest.mark.parametrize(
    ("extra", "of"),
    [
        ("[sensor]\nsupply_v = 3\n", lambda found: found.sensor.supply_v == 3),
        ("polarity = {left_x = -1}\n", lambda found: found.polarity == {"left_x": -1}),
        ("photos = ['a.jpg', 'b.jpg']\n", lambda found: found.photos == ("a.jpg", "b.jpg")),
        ("parts = []\n", lambda found: found.parts == ()),
        (RESISTOR.replace('"4.7k"', "4700"), lambda found: found.parts[0].value == 4700.0),
        (CAPACITOR + "rated_v = 6.3\ntolerance_fraction = 0\n", lambda found: found.parts[0].tolerance_fraction == 0),
        (HAND.replace("n = 4", "dof = 3"), lambda found: delay_of(found).dof == 3),
    ],
)  # fmt: skip
def test_whole_numbers_and_short_forms_pass(extra: str, of: Any, tmp_path: Path) -> None:
    assert of(read(HEAD + extra, tmp_path))


@pytest.mark.parametrize(
    "estimate",
    [
        Estimate.measured("d", 0.009, u=0.0001, unit="s", n=4, dof=3.5, scale="log"),
        Estimate.at_most("d", 0.001, unit="s", n=2),
        Estimate.at_least("d", 0.05, unit="s"),
        Estimate.not_resolved("d", unit="s"),
        Estimate.not_present("d", unit="fraction", n=3),
    ],
    ids=lambda estimate: str(estimate.status),
)
def test_every_status_survives_a_record(estimate: Estimate, tmp_path: Path) -> None:
    hand = HandRecord(session="s1", axes={"left_x": {"": {"d": estimate}}}, condition=Condition(mounting=2))
    write_profile(Profile(specimen="elm", hand=(hand,)), tmp_path / "elm.toml")
    assert read_profile(tmp_path / "elm.toml").hand == (hand,)
    assert estimate.status in Status


def test_a_step_is_added_after_the_others_and_an_unknown_place_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "elm.toml"
    part = Part(position="c1", role="capacitor", value=1e-6, unit="F")
    write_profile(Profile(specimen="elm", parts=(part,), states=(StateRecord(name="cleaned"),)), file)
    step = StateRecord(name="c1_lifted", changes={"c1": "lifted"})
    assert add_state(file, step).states == (StateRecord(name="cleaned"), step)
    with pytest.raises(ProfileError, match="changes parts that the record holds"):
        add_state(file, StateRecord(name="c2_lifted", changes={"c2": "lifted"}))
