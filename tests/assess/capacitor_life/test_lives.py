"""Lives of listed capacitors: the demo's truth, and dossiers that leave things out."""

import json
import math
from functools import cache

import numpy as np
import pytest
from hypothesis import strategies as st
from places import DEMO

from adapterlab.assess import capacitor_life as section
from adapterlab.dossier import read_dossier

ADAPTERS = ["alder-27", "birch-60", "cedar-65", "dogwood-18"]
rise = st.floats(0, 20)


# --- the demo adapters -----------------------------------------------------------------------


@cache
def record_of(name):
    return read_dossier(DEMO / name)


@cache
def assessed(name):
    return section.assess(record_of(name))


def true_life(case, truth, rated_ripple=5.0):
    """Life [h] by the plain rule at the true temperature, worked out by hand for a 13 mm can."""
    entry, (place, power) = case, (case.place, case.output_power)
    warm = truth["temperatures"][f"{place}, {power:g} W"]
    rise = 0.0
    if entry.ripple_current is not None and entry.rated_ripple_current is not None:
        rise = rated_ripple * (entry.ripple_current / entry.rated_ripple_current) ** 2
    around = warm - rise / 1.2
    hours = entry.base_life / 3600
    if entry.base_life_includes_ripple:
        exponent = rated_ripple / (10 - rated_ripple / 4) - rise / (10 - rise / 4)
    else:
        exponent = -rise / 5
    return hours * 2 ** ((entry.rated_temperature - around) / 10 + exponent)


@pytest.mark.parametrize("name", ADAPTERS)
def test_interval_holds_the_life_at_the_true_temperature(name):
    dossier = record_of(name)
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    lives = assessed(name).lives
    wet = lives[lives["type"] == "wet electrolytic"].set_index("part")
    entries = [c for c in dossier.adapter.capacitors if c.type == "wet electrolytic"]
    assert len(entries) == len(wet) > 0
    for entry in entries:
        row = wet.loc[entry.part]
        assert row["low"] < true_life(entry, truth) < row["high"]
        # The rule itself leaves a factor of about two either way, not ten.
        assert row["high"] / row["low"] < 6


@pytest.mark.parametrize("name", ADAPTERS)
def test_interval_of_polymers_spans_both_rules_at_the_true_temperature(name):
    dossier = record_of(name)
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    lives = assessed(name).lives.set_index("part")
    for entry in dossier.adapter.capacitors:
        if entry.type == "polymer":
            warm = truth["temperatures"][f"{entry.place}, {entry.output_power:g} W"]
            hours, cooler = entry.base_life / 3600, entry.rated_temperature - warm
            row = lives.loc[entry.part]
            assert row["low"] < hours * 3 ** (cooler / 10) < row["high"]


@pytest.mark.parametrize(("name", "part"), [("alder-27", "C3"), ("dogwood-18", "C3")])
def test_small_hot_electrolytic_goes_first(name, part):
    result = assessed(name)
    assert result.lives.iloc[0]["part"] == part
    assert result.lives.iloc[0]["first"] > 0.99
    first = next(f for f in result.findings if f.question == "Which capacitor goes first?")
    assert first.sentence.startswith(f"{part} goes first (probability above 0.99)")
    assert first.prediction.value < 2


@pytest.mark.parametrize(("name", "part"), [("cedar-65", "C1"), ("birch-60", "EC3")])
def test_doubt_about_the_first_is_said(name, part):
    result = assessed(name)
    order = result.lives.sort_values("first", ascending=False)
    assert order.iloc[0]["part"] == part
    assert 0.5 < order.iloc[0]["first"] < 0.975
    assert "most likely goes first" in str([f.sentence for f in result.findings])
    assert result.lives["first"].sum() == pytest.approx(1)


def test_ceramics_get_words_and_no_life():
    result = assessed("cedar-65")
    told = {f.word: f for f in result.findings if "C6" in f.question}
    assert set(told) == {"does not apply", "result"}
    assert "no life is stated" in told["does not apply"].sentence
    assert told["does not apply"].reading is None
    assert "crack" in told["does not apply"].note
    assert told["result"].prediction.unit == "F"
    assert "assumed to halve the capacitance" in told["result"].sentence
    assert "C6" not in set(result.lives["part"])


def test_longer_than_makers_vouch_for_is_said():
    result = assessed("cedar-65")
    told = next(f for f in result.findings if f.sentence.startswith("C1 (bulk"))
    assert told.prediction.value > 15
    assert "longer than the 15 years that makers vouch for" in told.sentence


# --- dossiers made up for one question each --------------------------------------------------

CAPACITOR = {
    "part": "C1",
    "type": "wet electrolytic",
    "place": "bulk capacitor",
    "temperature": "65 C",
    "temperature_uncertainty": "3 K",
    "base_life": "5000 h",
    "rated_temperature": "105 C",
}


def dossier_of(folder, *capacitors, temperatures=""):
    """A dossier with a nameplate and the capacitors given as changes to `CAPACITOR`."""
    text = '[nameplate]\nname = "sample"\nrated_power = "20 W"\n'
    for change in capacitors:
        entry = {key: value for key, value in (CAPACITOR | change).items() if value is not None}
        text += "[[capacitors]]\n" + "".join(
            f"{key} = {json.dumps(value)}\n" for key, value in entry.items()
        )
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    if temperatures:
        (folder / "temperatures.csv").write_text(temperatures, encoding="utf-8")
    return read_dossier(folder)


def test_nameplate_only(tmp_path):
    result = section.assess(dossier_of(tmp_path))
    assert {f.word for f in result.findings} == {"not measured"}
    assert result.lives.empty
    assert result.used == result.cases == result.ceramics == ()
    assert result.heat is None
    for table in (result.end, result.laws(), result.currents(), result.in_years()):
        assert table.empty
    assert result.table().empty


def test_exact_inputs_leave_only_the_law(tmp_path):
    given_exactly = {"temperature_uncertainty": "0 K", "ripple_current": "0 A",
                     "rated_ripple_current": "1 A"}  # fmt: skip
    with pytest.raises(ValueError, match="ripple_current"):
        dossier_of(tmp_path, given_exactly)
    given_exactly["ripple_current"] = "1 nA"
    row = section.assess(dossier_of(tmp_path, given_exactly)).lives.iloc[0]
    # Halving interval rectangular from 8 to 12 K: 40 K cooler is 2^(40/h).
    low, high = (5000 * 2 ** (40 / interval) for interval in (11.9, 8.1))
    assert row["low"] == pytest.approx(low, rel=2e-3)
    assert row["high"] == pytest.approx(high, rel=2e-3)
    assert row["life"] == pytest.approx(80000, rel=2e-3)
    assert row["spread_from"] == "the 10-kelvin rule"


def test_rated_ripple_rise_may_be_missing(tmp_path):
    known = {"ripple_current": "0.5 A", "rated_ripple_current": "1 A"}
    row = section.assess(dossier_of(tmp_path, known)).lives.iloc[0]
    # Rubycon, letter: 5 K at rated ripple for most series, 3.5 to 10 K over all of them; a quarter
    # of it at half the current.
    assert row["ripple_rise"] == pytest.approx((3.5 + 10) / 2 / 4)
    unknown = section.assess(dossier_of(tmp_path, {})).lives.iloc[0]
    assert np.isnan(unknown["ripple_rise"])
    assert unknown["low"] < row["low"]


def test_hotter_than_the_rating_falls_short_and_has_no_life(tmp_path):
    result = section.assess(dossier_of(tmp_path, {"temperature": "118 C"}))
    words = {f.question: f.word for f in result.findings}
    assert words["Is every capacitor within its rated temperature?"] == "falls short"
    told = next(f for f in result.findings if "outside the laws' range" in f.sentence)
    assert told.prediction is None
    assert result.lives.empty


def test_at_the_rating_is_too_close_to_call(tmp_path):
    result = section.assess(dossier_of(tmp_path, {"temperature": "103 C"}))
    assert next(iter(result.findings)).word == "too close to call"
    told = next(f for f in result.findings if f.prediction)
    assert "above its rating" in told.note


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"temperature": "30 C"}, "30 °C lies outside"),
        ({"ripple_current": "4 A", "rated_ripple_current": "1 A"}, "below 40 K"),
        ({"ripple_current": "2.9 A", "rated_ripple_current": "1 A", "temperature": "90 C"},
         "below 40 K"),
        ({"base_life_tolerance": "100 %"}, "must be below 100 %"),
    ],
)  # fmt: skip
def test_outside_the_range_is_said(tmp_path, change, reason):
    result = section.assess(dossier_of(tmp_path, change))
    told = next(
        f for f in result.findings if f.question == "How long does C1 (bulk capacitor) last?"
    )
    assert told.word == "does not apply"
    assert reason in told.sentence
    assert result.lives.empty


def test_missing_data_is_named(tmp_path):
    lacking = {"temperature": None, "base_life": None}
    result = section.assess(dossier_of(tmp_path, lacking, {"part": "C2"}))
    told = next(
        f for f in result.findings if f.question == "How long does C1 (bulk capacitor) last?"
    )
    assert told.word == "not measured"
    assert "temperature of its case" in told.sentence
    assert "base_life" in told.sentence
    assert list(result.lives["part"]) == ["C2"]


def test_temperature_from_the_table_of_its_place(tmp_path):
    table = (
        "place,temperature_c,output_power_w\nbulk capacitor,50,10\nbulk capacitor,70,20\n"
        "output capacitor,90,20\n"
    )
    lives = section.assess(
        dossier_of(
            tmp_path,
            {"temperature": None},
            {"part": "C2", "temperature": None, "output_power": "10 W"},
            {"part": "C3"},
            temperatures=table,
        )
    )
    warm = lives.lives.set_index("part")["temperature"]
    assert warm.round(1).to_dict() == {"C1": 70, "C2": 50, "C3": 65}
    told = next(f for f in lives.findings if f.sentence.startswith("C1 (bulk"))
    assert told.origin == "temperatures.csv line 3"


def test_law_is_common_to_twins(tmp_path):
    # Equal capacitors 6 K apart: the law's factor cancels between them, so the order is settled by
    # two independent temperatures of 3 K each, and by the spread from part
    # to part. Drawn here anew, with the ratio of the lives only.
    ripple = {"ripple_current": "1 mA", "rated_ripple_current": "1 A"}
    twins = dossier_of(tmp_path, ripple, ripple | {"part": "C2", "temperature": "71 C"})
    lives = section.assess(twins).lives.set_index("part")
    rng = np.random.default_rng(5)
    apart = 6 + 3 * math.sqrt(2) * rng.standard_normal(200_000)
    ratio = 2 ** (apart / rng.uniform(8, 12, apart.size))
    expected = (1 / (1 + ratio ** -rng.uniform(3, 6, apart.size))).mean()
    assert lives.loc["C2", "first"] == pytest.approx(expected, abs=0.01)
    assert lives["first"].sum() == pytest.approx(1)


def test_figures_show_or_say_why_not(tmp_path):
    pyplot = pytest.importorskip("matplotlib.pyplot")
    from adapterlab.figures.capacitor_life import FIGURES

    for result in (section.assess(dossier_of(tmp_path)), assessed("alder-27")):
        shown = {finding.figure for finding in result.findings} - {""}
        assert shown <= set(FIGURES)
        for draw in FIGURES.values():
            figure = draw(result)
            assert len(figure.get_suptitle()) > 20
            pyplot.close(figure)
    title = FIGURES["capacitor_life_lives"](result).get_suptitle()
    pyplot.close("all")
    assert title.startswith("C3 goes first")
