"""What the section says of dossiers: the demo's truth recovered, and readings that lack something."""

import json
import re
from functools import cache

import matplotlib.pyplot as plt
import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.assess import touch_current as section
from adapterlab.dossier import DossierError, read_dossier
from adapterlab.figures.touch_current import FIGURES
from adapterlab.touch_current import indicated_current

NAMES = ["alder-27", "birch-60", "cedar-65", "dogwood-18"]
HEAD = "mains_voltage_v,mains_frequency_hz,polarity,network,quantity,touch_current_ua\n"
IMPLIES = "What capacitance does the reading imply?"
POLARITY = "Is it the same with either plug polarity?"
SWITCHING = "Does switching-frequency current flow through the body?"
SCALING = "Does it grow with mains voltage times frequency, as through a capacitor?"


def truth(name):
    return json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))


@cache
def demo(name):
    return section.assess(read_dossier(DEMO / name))


def changed(tmp_path, table, name="birch-60", drop=()):
    """Assessment of a demo adapter with another table of touch currents."""
    folder = tmp_path / "changed"
    folder.mkdir()
    text = (DEMO / name / "adapter.toml").read_text(encoding="utf-8")
    text = re.sub(r"^\[\[captures\]\].*?(?=^\[\[(?!captures)|\Z)", "", text, flags=re.M | re.S)
    for words in drop:
        text = text.replace(*words)
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    (folder / "touch_current.csv").write_text(table, encoding="utf-8")
    return section.assess(read_dossier(folder))


def finding(result, question):
    (found,) = (item for item in result.findings if item.question == question)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_demo_truth_lies_in_the_interval(name):
    """The capacitance the generator put across the barrier is found again."""
    known = truth(name)
    result = demo(name)
    low, high = result.inferred.interval
    assert low <= known["barrier"]["capacitance"] <= high
    # What the parts leave over: all that is there, less marked value and windings.
    rest = known["barrier"]["capacitance"] - result.barrier.capacitance - result.windings.value
    assert result.rest.interval[0] <= rest <= result.rest.interval[1]
    assert_allclose(result.windings.value, known["barrier_parts"]["between the windings"])
    pins = known["barrier"]["stray_capacitance"]
    assert abs(result.split.terminal_capacitance - pins) < 2.6 * result.split.terminal_uncertainty


@pytest.mark.parametrize(
    ("name", "word"),
    [("alder-27", "explained"), ("birch-60", "unexplained"), ("cedar-65", "explained"),
     ("dogwood-18", "explained")],
)  # fmt: skip
def test_demo_story(name, word):
    """One capacitor explains alder and dogwood, two in series cedar, and birch hides a path."""
    result = demo(name)
    assert finding(result, IMPLIES).word == word
    assert finding(result, POLARITY).word == "explained"


def test_readings_at_two_mains_and_two_networks_agree():
    result = demo("birch-60")
    assert finding(result, SCALING).word == "explained"
    assert finding(result, SWITCHING).word == "explained"
    assert "could hide" in finding(result, SWITCHING).note


def test_series_capacitors_join():
    """Two of 1.5 nF and 20 % in series: 0.75 nF, tolerance 0.15/sqrt(2)/sqrt(3) by quadrature."""
    barrier = section.barrier_of(read_dossier(DEMO / "cedar-65"))
    assert_allclose(barrier.capacitance, 0.75e-9, rtol=1e-12)
    assert_allclose(barrier.standard_uncertainty, 0.15e-9 / np.sqrt(6), rtol=1e-12)
    assert_allclose([barrier.low, barrier.high], [0.6e-9, 0.9e-9], rtol=1e-12)


def test_memory_limits_carry_no_verdict():
    for item in demo("birch-60").findings:
        if item.limit is not None and item.limit.known == "memory":
            assert item.word == "no limit applies"


def test_every_weighted_limit_is_held_against_its_reading():
    result = demo("birch-60")
    held = {(item.limit.name, item.limit.value) for item in result.findings if item.limit}
    assert {name.split(" (")[0] for name, _ in held} == {
        "IEC 60950-1", "IEC 60065", "IEC 60335-1", "IEC 62368-1", "IEC 62684", "IEC 60598-1"
    }  # fmt: skip
    assert all(item.probability is not None for item in result.findings if item.limit)


def test_all_or_nothing_is_diagnosed(tmp_path):
    """72 uA one way, 1 uA the other: a capacitor of 1 nF on a mains pin (closed form)."""
    shown = indicated_current(1e-9, 230, 50, "full-mains") * 1e6
    table = f"{HEAD}230,50,a,weighted,rms,{shown:.1f}\n230,50,b,weighted,rms,1\n"
    result = changed(tmp_path, table)
    found = finding(result, POLARITY)
    assert found.word == "unexplained"
    assert "all or almost nothing: the path sits on a mains pin" in found.sentence
    assert_allclose(result.inferred.capacitance, 1e-9, rtol=0.01)


def test_a_difference_says_where_to_look(tmp_path):
    result = changed(tmp_path, f"{HEAD}230,50,a,weighted,rms,60\n230,50,b,weighted,rms,80\n")
    found = finding(result, POLARITY)
    assert found.word == "unexplained"
    assert "sits on the mains pin that is live at the larger reading" in found.sentence


def test_switching_current_is_seen(tmp_path):
    """200 uA of it beside 87 uA: in quadrature 218 uA unweighted, by hand."""
    table = f"{HEAD}230,50,a,weighted,rms,87\n230,50,a,unweighted,rms,218\n"
    found = finding(changed(tmp_path, table), SWITCHING)
    assert found.word == "unexplained"
    assert "Up to 20" in found.note


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        (HEAD.replace("polarity,", "") + "230,50,weighted,rms,87\n", "lacks the polarity of any"),
        (HEAD + "230,50,b,weighted,rms,87\n", "lacks the other polarity"),
        (HEAD + "230,50,,weighted,rms,87\n", "lacks the polarity of any reading"),
    ],
)
def test_without_polarity_it_says_what_is_not_known(tmp_path, table, sentence):
    result = changed(tmp_path, table)
    found = finding(result, POLARITY)
    assert found.word == "not measured"
    assert sentence in found.sentence
    assert "behind the bridge or on a mains pin" in found.sentence
    limits = [item for item in result.findings if item.limit is not None]
    assert all("one way round only" in item.note for item in limits)


@pytest.mark.parametrize(
    "table",
    [HEAD.replace("network,", "") + "230,50,a,rms,87\n", HEAD + "230,50,a,,rms,87\n"],
    ids=["no column", "empty cell"],
)
def test_without_network_it_says_what_is_not_known(tmp_path, table):
    result = changed(tmp_path, table)
    found = finding(result, "With which body network was it measured?")
    assert found.word == "not measured"
    assert "line 2 of touch_current.csv is not noted" in found.sentence
    assert not [item for item in result.findings if item.limit is not None]
    # It may have been either network: their difference is in the interval.
    assert result.inferred.standard_uncertainty > 0.01 * result.inferred.capacitance


def test_a_reading_no_part_could_carry(tmp_path):
    """87 mA instead of 87 uA."""
    table = HEAD.replace("_ua", "_ma") + "230,50,a,weighted,rms,87\n"
    result = changed(tmp_path, table)
    found = finding(result, IMPLIES)
    assert found.word == "unexplained"
    assert "more than any barrier part could carry" in found.sentence
    assert result.inferred is None
    for draw in FIGURES.values():
        plt.close(draw(result))


def test_negative_current_is_an_error_with_its_place(tmp_path):
    with pytest.raises(DossierError, match="touch_current.csv.*line 2"):
        changed(tmp_path, HEAD + "230,50,a,weighted,rms,-87\n")


def test_scaled_to_the_top_of_the_mains_range():
    """cedar was read at 230 V 50 Hz only: 39 uA times 264*60/(230*50), by hand 53.7 uA."""
    result = demo("cedar-65")
    found = finding(result, "What would it be at the highest mains?")
    assert_allclose(found.reading.value, 39e-6 * 264 * 60 / 230.2 / 49.99, rtol=0.008)
    assert found.word == "no limit applies"


def test_without_instruments_no_verdict_rests_on_a_limit(tmp_path):
    table = HEAD + "230,50,a,weighted,rms,87\n230,50,b,weighted,rms,87\n"
    drop = [('measures = "touch current"', 'measures = "temperature"')]
    result = changed(tmp_path, table, drop=drop)
    for item in result.findings:
        if item.limit is not None:
            assert item.word == "no limit applies"


def test_allowed_capacitances_by_hand():
    """0.25 mA rms at 264 V 60 Hz: 2.512 nF on the full mains (hand), 0.4 % more when weighted."""
    table = demo("birch-60").allowed
    row = table[table["limit"] == "IEC 60950-1 (Class II not earthed)"].iloc[0]
    assert_allclose(row["full-mains"], 2.512e-9, rtol=0.005)
    assert_allclose(row["half-mains"], 2 * row["full-mains"], rtol=1e-9)


@pytest.mark.parametrize("name", [*NAMES, "nameplate only"])
def test_every_figure_can_be_drawn(tmp_path, name):
    assert len(FIGURES) <= 7
    if name == "nameplate only":
        text = '[nameplate]\nname = "bare"\nrated_power = "18 W"\n'
        (tmp_path / "adapter.toml").write_text(text, encoding="utf-8")
        result = section.assess(read_dossier(tmp_path))
        assert [item.word for item in result.findings] == ["not measured"]
    else:
        result = demo(name)
    for draw in FIGURES.values():
        figure = draw(result)
        assert figure.get_suptitle()
        plt.close(figure)
