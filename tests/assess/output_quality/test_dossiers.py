"""The output of thin, odd and bad dossiers."""

import shutil

import matplotlib.pyplot as plt
import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import output_quality as section
from adapterlab.dossier import read_dossier
from adapterlab.figures.output_quality import FIGURES

NAMES = ["alder-27", "birch-60", "cedar-65", "dogwood-18"]
SWEEP = (
    "point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,output_voltage_v,"
    "output_current_a,ripple_pp_mv\n"
)
PLATE = '[nameplate]\nname = "fir-20"\nrated_power = "20 W"\n'
PORT = (
    '[[ports]]\nname = "C"\nconnector = "USB-C"\n'
    'modes = [{ name = "9 V", voltage = "9 V", current = "2.2 A" }]\n'
)
METER = (
    '[[instruments]]\nname = "multimeter"\nmeasures = "output voltage"\n'
    'fraction_of_reading = "0.05 %"\nresolution = 0.001\n'
)


def finding(result, text):
    found = [item for item in result.findings if text in item.question]
    assert len(found) == 1, [item.question for item in found]
    return found[0]


def write(folder, sweep="", adapter=PLATE + PORT + METER):
    (folder / "adapter.toml").write_text(adapter, encoding="utf-8")
    if sweep:
        (folder / "load_sweep.csv").write_text(SWEEP + sweep, encoding="utf-8")
    return section.assess(read_dossier(folder))


def draw_all(result):
    for draw in FIGURES.values():
        figure = draw(result)
        assert figure.get_suptitle()
        plt.close(figure)


def test_a_nameplate_alone(tmp_path):
    result = write(tmp_path, adapter=PLATE)
    assert {item.word for item in result.findings} == {"not measured"}
    draw_all(result)


def points(count, ripple=lambda load: 20 + 10 * load, volts=9.02):
    rng = np.random.default_rng(7)
    loads = np.linspace(0.2, 2.2, count)
    return "".join(
        f"{i},230,50,{2 + 10 * load:.3f},C,9 V,{volts - 0.03 * load:.3f},{load:.3f},"
        f"{ripple(load) + 0.3 * rng.normal():.1f}\n"
        for i, load in enumerate(loads)
    )


def test_a_window_that_is_left(tmp_path):
    result = write(tmp_path, points(6, volts=8.58))
    judged = finding(result, "Does C keep its voltage")
    assert judged.word == "falls short"
    assert "at least 8.55 V" in judged.sentence
    assert "ripple at 8 or more loads" in finding(result, "ripple jump").sentence
    draw_all(result)


def test_no_instrument_no_verdict(tmp_path):
    result = write(tmp_path, points(6), adapter=PLATE + PORT)
    judged = finding(result, "Does C keep its voltage")
    assert judged.word == "not judged"
    assert "no instrument is listed for it" in judged.sentence


def jumping(load):
    return 20 + 5 * load + 15 * (load > 1.3)


def test_a_step_of_an_adapter_nobody_opened_is_not_judged(tmp_path):
    result = write(tmp_path, points(20, jumping))
    judged = finding(result, "ripple jump")
    assert judged.word == "not judged"
    assert "no converter is listed for C, so no verdict rests on it" in judged.sentence
    draw_all(result)


CONVERTER = '[[construction.converters]]\nname = "main"\nrated_power = "20 W"\n'
SCOPE = (
    '[[instruments]]\nname = "scope"\nmeasures = "ripple"\nfraction_of_reading = "3 %"\n'
    "full_scale = 0.03\nfraction_of_full_scale = '0 %'\nresolution = 0.0001\n"
)


def test_a_step_without_a_cause_is_unexplained(tmp_path):
    """One converter of fixed frequency, one range of 200 mV: nothing is left to be behind it."""
    fixed = CONVERTER + 'switching_frequency = "65 kHz"\n' + SCOPE.replace("0.03", "0.2")
    result = write(tmp_path, points(20, jumping), adapter=PLATE + PORT + METER + fixed)
    judged = finding(result, "ripple jump")
    assert judged.word == "unexplained"
    assert "no cause that the parts list allows" in judged.sentence
    assert "A part that is not listed is the first to look for." in judged.sentence
    draw_all(result)


@pytest.mark.parametrize(
    ("adapter", "ripple", "cause"),
    [
        (CONVERTER, lambda load: 40 - 15 * (load > 0.5), "leaving burst mode"),
        (
            '[construction]\ntopology = "quasi-resonant flyback"\n' + CONVERTER,
            lambda load: 20 + 5 * load + 15 * (load > 1.3),
            "a change of valley",
        ),
        (
            CONVERTER.replace("main", "one") + 'switching_frequency = "65 kHz"\n' + SCOPE,
            lambda load: 20 + 5 * load + 15 * (load > 1.3),
            "a change of the meter's range",
        ),
    ],
)
def test_rival_causes(tmp_path, adapter, ripple, cause):
    fixed = adapter if "frequency" in adapter or "topology" in adapter else (
        adapter + 'switching_frequency = "65 kHz"\n'
    )  # fmt: skip
    result = write(tmp_path, points(20, ripple), adapter=PLATE + PORT + METER + fixed)
    (sweep,) = result.sweeps
    assert [item.name for item in sweep.causes if item.possible] == [cause]
    assert cause in finding(result, "ripple jump").sentence


def test_all_loads_equal(tmp_path):
    line = "{},230,50,12,C,9 V,9.01,1.0,30\n"
    result = write(tmp_path, "".join(line.format(i) for i in range(12)))
    assert finding(result, "fall under load").word == "not measured"
    assert finding(result, "ripple jump").word == "not measured"
    draw_all(result)


def test_lacking_modes_are_named(tmp_path):
    plate = PLATE + PORT.replace("9 V", "20 V").replace("2.2 A", "2.25 A")
    judged = finding(write(tmp_path, adapter=plate), "power makes one expect")
    # A mode that the dossier does not list may still stand on the label.
    assert judged.word == "not judged"
    assert judged.judgement.reason.startswith("the dossier does not say whether the label lacks")
    for lacking in ("5 V 3 A", "9 V 3 A", "15 V 3 A"):
        assert lacking in judged.judgement.reason


def test_a_port_beyond_the_rules_is_said(tmp_path):
    plate = PLATE + PORT.replace("9 V", "28 V").replace("2.2 A", "5 A")
    result = write(tmp_path, adapter=plate)
    judged = finding(result, "power makes one expect")
    assert judged.word == "no limit applies"
    assert "do not reach 140 W" in judged.sentence
    draw_all(result)


def test_a_shorted_output_does_not_stop_the_rest(tmp_path):
    result = write(tmp_path, points(6) + "9,230,50,3,C,9 V,0.0,2.3,0\n")
    assert finding(result, "Does C keep its voltage").word == "falls short"
    assert "in series" in finding(result, "fall under load").sentence


CAPTURE = (
    '[[captures]]\nkind = "{kind}"\nfile = "c.csv"\nport = "{port}"\n'
    'channels = [{{ column = 2, quantity = "voltage" }}]\n'
)


@pytest.mark.parametrize(
    ("kind", "port", "rows", "message"),
    [
        ("ripple", "C", 50, "time must hold at least 200 samples"),
        ("load step", "C", 500, "it needs a current channel"),
        ("port change", "", 500, "it needs port"),
        ("start-up", "C", 500, "voltage must come up from below a tenth"),
        ("overcurrent", "C", 500, "it needs a current channel"),
    ],
)
def test_captures_that_say_nothing(tmp_path, kind, port, rows, message):
    data = "".join(f"{i * 1e-6:.6f},{9 + 0.01 * np.sin(i):.4f}\n" for i in range(rows))
    (tmp_path / "c.csv").write_text("time,CH1\n" + data, encoding="utf-8")
    adapter = PLATE + PORT + CAPTURE.format(kind=kind, port=port)
    result = write(tmp_path, adapter=adapter)
    assert any(message in item.sentence for item in result.findings)
    draw_all(result)


def test_spikes_are_told(tmp_path):
    time = np.arange(20_000) * 1e-7
    wave = 0.02 * np.sin(2 * np.pi * 65e3 * time)
    wave[[4000, 9000]] += 0.4
    text = "".join(f"{t:.7f},{v:.5f}\n" for t, v in zip(time, wave, strict=True))
    (tmp_path / "c.csv").write_text("time,CH1\n" + text, encoding="utf-8")
    adapter = PLATE + PORT + SCOPE + CAPTURE.format(kind="ripple", port="C")
    judged = finding(write(tmp_path, adapter=adapter), "How large is the ripple of C")
    assert "2 isolated spikes were set aside, with which it is" in judged.sentence
    assert "bandwidth is not stated" in judged.note


def test_no_dossier_is_changed(tmp_path):
    folder = tmp_path / "birch"
    shutil.copytree(DEMO / "birch-60", folder)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    section.assess(read_dossier(folder))
    assert before == {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
