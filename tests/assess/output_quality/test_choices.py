"""Which reading a sentence of the output is about, and which word it gets: tables by hand."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.output_quality.hold_up import heaviest_rows
from adapterlab.assess.output_quality.input_current import heaviest_on_the_lowest_mains
from adapterlab.assess.output_quality.load_step import worst_of
from adapterlab.assess.output_quality.modes import OfferedMode
from adapterlab.assess.output_quality.outputs import LoadedOutput, mains_numbers, outputs_of
from adapterlab.assess.output_quality.resistance import OutputResistance, resistance_findings
from adapterlab.assess.output_quality.ripple_step import Cause, causes_of, sweeps_of, word_of
from adapterlab.assess.output_quality.set_points import SetPoint, set_point_findings
from adapterlab.assess.output_quality.window import limits_of, margin, nearest_to_an_end
from adapterlab.assess.report.value import Value
from adapterlab.dossier import read_dossier

PLATE = '[nameplate]\nname = "fir-20"\nrated_power = "20 W"\n'
PORT = (
    '[[ports]]\nname = "C"\nconnector = "USB-C"\n'
    'modes = [{ name = "9 V", voltage = "9 V", current = "2.2 A" }]\n'
)
HEADER = (
    "point,mains_voltage_v,mains_frequency_hz,mains_current_a,input_power_w,port,mode,"
    "output_voltage_v,output_current_a,ripple_pp_mv\n"
)


def specimen(folder, rows="", adapter=PLATE + PORT):
    (folder / "adapter.toml").write_text(adapter, encoding="utf-8")
    if rows:
        (folder / "load_sweep.csv").write_text(HEADER + rows, encoding="utf-8")
    return specimen_of(read_dossier(folder))


def output(volts, asked=9.0, connector="USB-C", kind="fixed", line=1, mode="9 V"):
    read = Value(volts, 0.001, "V")
    return LoadedOutput(
        "C", mode, connector, kind, asked, 1.0, read, None, 9.0, True, 230.0, 50.0, line
    )


@pytest.mark.parametrize(
    ("readings", "line", "kind"),
    [
        # Window of 9 V: 8.55 to 9.45 V. In volts per volt asked for the nearest end counts.
        ([(9.0, 9.0), (8.7, 9.0), (9.2, 9.0)], 2, "lower"),
        ([(9.0, 9.0), (8.8, 9.0), (9.3, 9.0)], 3, "upper"),
        # 4.80 V of 5 V is 1 % from its end; 8.60 V of 9 V is 0.6 %.
        ([(4.80, 5.0), (8.60, 9.0)], 2, "lower"),
        # Beyond an end counts before anything inside.
        ([(8.56, 9.0), (9.60, 9.0)], 2, "upper"),
    ],
)
def test_the_reading_nearest_to_an_end_is_judged(readings, line, kind):
    outputs = [output(volts, asked, line=n) for n, (volts, asked) in enumerate(readings, start=1)]
    chosen, limit = nearest_to_an_end(outputs)
    assert (chosen.line, limit.kind) == (line, kind)


def test_margins_by_hand():
    """USB Power Delivery, vSrcNew: 0.95 to 1.05 of 9 V, 8.55 and 9.45 V."""
    inside = output(8.64)
    lower, upper = limits_of(inside)
    assert margin(inside, lower) == pytest.approx(0.01)
    assert margin(inside, upper) == pytest.approx(0.09)
    assert margin(output(8.46), lower) == pytest.approx(-0.01)
    assert limits_of(output(9.0, connector="")) == []
    # Regulation (EU) 2025/2052, Annex II, 2(b): 90 % at another connector than USB-C.
    (other,) = limits_of(output(5.0, asked=5.0, connector="USB-A"))
    assert (other.kind, other.value) == ("lower", 4.5)


def test_a_gap_in_the_mains_voltage_begins_another_mains():
    assert mains_numbers([230.1, 115.0, 229.5, 116.2, 100.4]) == [2, 1, 2, 1, 0]
    assert mains_numbers([]) == []


ROWS = (
    "1,230,50,0.20,20,C,9 V,9,1.0,30\n"
    "2,115,60,0.30,21,C,9 V,9,1.0,30\n"
    "3,230,50,0.25,25,C,9 V,9,1.2,30\n"
    "4,116,60,0.42,24,C,9 V,9,1.2,30\n"
    "5,230,50,0.10,10,C,9 V,9,0.5,30\n"
    "6,115,60,0.41,26,C,9 V,9,1.3,30\n"
)


def test_the_heaviest_row_of_each_mains(tmp_path):
    found = heaviest_rows(specimen(tmp_path, ROWS))
    assert [row.point for row in found] == ["3", "6"]


def test_the_largest_mains_current_on_the_lowest_mains(tmp_path):
    assert heaviest_on_the_lowest_mains(specimen(tmp_path, ROWS)).point == "4"


def test_power_of_all_ports_and_whether_one_is_alone(tmp_path):
    rows = "1,230,50,,30,C,9 V,9,1.0,30\n1,230,50,,30,A,5 V,5,2.0,20\n2,230,50,,12,C,9 V,9,1.0,30\n"
    port = PORT + (
        '[[ports]]\nname = "A"\nconnector = "USB-A"\n'
        'modes = [{ name = "5 V", voltage = "5 V", current = "2.4 A" }]\n'
    )
    first, second, third = outputs_of(specimen(tmp_path, rows, PLATE + port))
    assert (first.power, second.power, third.power) == (19.0, 19.0, 9.0)
    assert (first.alone, second.alone, third.alone) == (False, False, True)
    assert first.ripple.value == pytest.approx(0.03)


@dataclass(frozen=True)
class Steps:
    current_before: np.ndarray
    current_after: np.ndarray
    deviation: np.ndarray


def test_the_step_of_largest_deviation_either_way():
    steps = Steps(
        np.array([0.3, 3.0, 0.3, 3.0, 1.0]),
        np.array([3.0, 0.3, 3.0, 0.3, 1.0]),
        np.array([-0.20, 0.25, -0.24, 0.15, 0.9]),
    )
    assert worst_of(steps, rising=True) == 2
    assert worst_of(steps, rising=False) == 1
    level = Steps(np.array([1.0]), np.array([1.0]), np.array([0.1]))
    assert worst_of(level, rising=True) is None


def test_the_mode_of_most_current_speaks_for_its_port():
    def mode(name, ohms, current):
        return OutputResistance("C", name, Value(ohms, 0.001, "Ω"), 9.0, 0.01, current)

    found = resistance_findings([mode("5 V", 0.02, 3.0), mode("20 V", 0.05, 3.25)])
    (said,) = [item.sentence for item in found]
    assert "(50.0 ± 2.0) mΩ" in said
    # 5 A cable, USB Type-C 4.4.1: 0.75 V at 5 A, so 0.15 ohm, here 488 mV of 488 + 163 mV.
    assert "loses 488 mV more, 75 % of both" in said


@pytest.mark.parametrize(("current", "lost"), [(3.0, "750 mV"), (3.05, "762 mV"), (3.1, "465 mV")])
def test_a_cable_for_more_than_three_amperes_is_another(current, lost):
    """USB Type-C 4.4.1: 0.5 + 0.25 V at the rated current: 0.25 ohm for 3 A, 0.15 ohm for 5 A."""
    mode = OutputResistance("C", "5 V", Value(0.02, 0.001, "Ω"), 5.0, 0.01, current)
    (found,) = resistance_findings([mode])
    assert f"loses {lost} more" in found.sentence


def test_the_largest_set_point_error_is_named(tmp_path):
    points = [
        SetPoint(output(asked + error, asked, kind="programmable", line=n, mode="PPS"),
                 Value(error, 0.001 * n, "V"))
        for n, (asked, error) in enumerate([(5.0, 0.02), (11.0, -0.09), (20.0, 0.06)], start=1)
    ]  # fmt: skip
    (found,) = set_point_findings(specimen(tmp_path), points)
    assert "at most (90 ± 4) mV, at 11 V: 4.5 steps of 20 mV" in found.sentence
    assert found.origin == "load_sweep.csv line 2"


@pytest.mark.parametrize(
    ("expected", "offered", "lacking"),
    [(3.0, 3.0, False), (3.0, 2.98, False), (3.0, 2.96, True), (3.0, None, True),
     (None, 2.0, False)],
)  # fmt: skip
def test_a_mode_is_lacking_below_what_rounding_explains(expected, offered, lacking):
    assert OfferedMode(9.0, expected, offered, None).is_lacking is lacking


@pytest.mark.parametrize(
    ("possible", "word"),
    [
        ([True, False, False], "explained"),
        ([True, None, False], "explained"),
        ([False, None, False], "not judged"),
        ([False, False, False], "unexplained"),
    ],
)
def test_word_of_a_step(possible, word):
    causes = [Cause("a cause", item, f"reason {n}") for n, item in enumerate(possible)]
    judged = word_of(causes)
    assert judged.word == word
    assert judged.reason == ("reason 1" if word == "not judged" else "")


def converters(*joins, topology=""):
    text = f'[construction]\ntopology = "{topology}"\n' if topology else ""
    for n, load in enumerate((None, *joins)):
        text += f'[[construction.converters]]\nname = "c{n}"\nrated_power = "20 W"\n'
        text += 'switching_frequency = "65 kHz"\n'
        text += f'joins_above = "{load} W"\n' if load else ""
    return text


def scope(*scales):
    return "".join(
        f'[[instruments]]\nname = "scope"\nmeasures = "ripple"\nfull_scale = {scale}\n'
        for scale in scales
    )


def step(load, before=0.050, after=0.060):
    return SimpleNamespace(load=load, before=before, after=after)


SECOND, BURST, VALLEY, RANGE = range(4)


@pytest.mark.parametrize(
    ("adapter", "found", "cause", "possible"),
    [
        # A converter that joins above 15 W: steps from half of that to a tenth above.
        (converters(15), step(15.0), SECOND, True),
        (converters(15), step(7.6), SECOND, True),
        (converters(15), step(7.4), SECOND, False),
        (converters(15), step(16.4), SECOND, True),
        (converters(15), step(16.6), SECOND, False),
        # The nearer of two.
        (converters(4, 15), step(15.0), SECOND, True),
        (converters(), step(15.0), SECOND, False),
        ("", step(15.0), SECOND, None),
        # Not noted: above the rating of the first, 20 W, or anywhere.
        (converters(None), step(20.0), SECOND, True),
        (converters(None), step(9.0), SECOND, None),
        # Burst: below 0.3 of the rated power, and the ripple falls there.
        (converters(), step(5.9, 0.06, 0.05), BURST, True),
        (converters(), step(6.1, 0.06, 0.05), BURST, False),
        (converters(), step(5.9, 0.05, 0.06), BURST, False),
        # Valley.
        (converters(topology="quasi-resonant flyback"), step(9.0), VALLEY, True),
        (converters(topology="flyback"), step(9.0), VALLEY, False),
        (converters().replace('switching_frequency = "65 kHz"\n', ""), step(9.0), VALLEY, None),
        ("", step(9.0), VALLEY, None),
        # Range: it ends between the two sides, or up to a twentieth above the larger.
        (scope(0.055), step(9.0), RANGE, True),
        (scope(0.062), step(9.0), RANGE, True),
        (scope(0.064), step(9.0), RANGE, False),
        (scope(0.049), step(9.0), RANGE, False),
        (scope(0.055, 0.2), step(9.0, 0.06, 0.05), RANGE, True),
        (scope(0), step(9.0), RANGE, None),
        ("", step(9.0), RANGE, None),
    ],
)
def test_causes_of_a_step(tmp_path, adapter, found, cause, possible):
    causes = causes_of(specimen(tmp_path, "", PLATE + PORT + adapter), "C", found, 20.0)
    assert causes[cause].possible is possible


@pytest.mark.parametrize(("most", "possible"), [(21.9, False), (22.1, None)])
def test_converters_that_could_not_give_the_power_are_not_all(tmp_path, most, possible):
    """One converter of 20 W listed: it gives a tenth more at most, so another one must be there."""
    adapter = specimen(tmp_path, "", PLATE + PORT + converters())
    assert causes_of(adapter, "C", step(15.0), most)[SECOND].possible is possible


@pytest.mark.parametrize(("loads", "count"), [(8, 1), (7, 0)])
def test_a_sweep_needs_eight_loads(tmp_path, loads, count):
    rows = "".join(
        f"{n},230,50,,{10 + n},C,9 V,9,{0.3 + 0.2 * n:.1f},{30 + n}\n" for n in range(loads)
    )
    adapter = specimen(tmp_path, rows)
    sweeps, troubles = sweeps_of(adapter, outputs_of(adapter))
    assert (len(sweeps), len(troubles)) == (count, 1 - count)
