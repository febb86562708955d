"""Which readings tell what a case gives off, under which load, and what a mode not noted leaves."""

import numpy as np
import pandas as pd
import pytest

from adapterlab.assess.model.heat import (
    HeatModel,
    Loaded,
    coolest_resistance,
    heat_model,
    readings_of_case,
)
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.loadings import Loading
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.dossier import read_dossier

PLATE = (
    '[nameplate]\nname = "sample"\nrated_power = "20 W"\nsize = ["60 mm", "50 mm", "28 mm"]\n'
    '[[ports]]\nname = "C"\nmodes = [{ name = "5 V", voltage = "5 V", current = "2 A" }, '
    '{ name = "10 V", voltage = "10 V", current = "2 A" }]\n'
    '[[instruments]]\nname = "thermometer"\nmeasures = "temperature"\n'
    'fraction_of_reading = "0 %"\nfraction_of_full_scale = "0.5 %"\nfull_scale = 200.0\n'
)
HEAD = "place,temperature_c,ambient_c,case,output_power_w,mains_voltage_v,port,mode\n"
# Loss of each mode in watts at 230 V and at 115 V: fixed, per watt, per watt squared.
MODES = {("5 V", 230): (0.5, 0.10, 0.01), ("10 V", 230): (0.5, 0.05, 0.002),
         ("10 V", 115): (0.5, 0.08, 0.004)}  # fmt: skip


def swept(folder, temperatures=""):
    (folder / "adapter.toml").write_text(PLATE, encoding="utf-8")
    lines = ["point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,output_voltage_v,"
             "output_current_a"]  # fmt: skip
    for (mode, mains), (fixed, share, square) in MODES.items():
        volts = float(mode.split()[0])
        for step in range(1, 9):
            power = volts * step / 4
            drawn = power + fixed + share * power + square * power**2
            lines.append(f"{len(lines)},{mains},50,{drawn:.5f},C,{mode},{volts},{step / 4}")
    (folder / "load_sweep.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    if temperatures:
        (folder / "temperatures.csv").write_text(HEAD + temperatures, encoding="utf-8")
    return specimen_of(read_dossier(folder))


def loss(mode, mains, power):
    fixed, share, square = MODES[mode, mains]
    return fixed + share * power + square * power**2


@pytest.mark.parametrize(
    ("loaded", "least", "largest"),
    [
        # By hand from MODES: the mode and the mains noted, one of both, none.
        (Loaded(8.0, 230.0, "C", "5 V"), loss("5 V", 230, 8), loss("5 V", 230, 8)),
        (Loaded(8.0, 230.0, "", "10 V"), loss("10 V", 230, 8), loss("10 V", 230, 8)),
        (Loaded(8.0, 115.0), loss("10 V", 115, 8), loss("10 V", 115, 8)),
        (Loaded(8.0, None, "", "10 V"), loss("10 V", 230, 8), loss("10 V", 115, 8)),
        (Loaded(8.0, 230.0), loss("10 V", 230, 8), loss("5 V", 230, 8)),
        (Loaded(8.0), loss("10 V", 230, 8), loss("5 V", 230, 8)),
        # Beyond what the 5 V mode reaches.
        (Loaded(18.0, 230.0), loss("10 V", 230, 18), loss("10 V", 230, 18)),
    ],
)
def test_which_loss_a_load_means(tmp_path, loaded, least, largest):
    found = heat_model(swept(tmp_path)).losses(loaded)
    assert found == pytest.approx((least, largest), rel=1e-3)


@pytest.mark.parametrize(
    ("loaded", "most"),
    [(Loaded(30.0), "20 W"), (Loaded(12.0, 230.0, "", "5 V"), "10 W"), (Loaded(5.0, 60.0), "20 W")],
)
def test_no_loss_beyond_what_was_measured(tmp_path, loaded, most):
    with pytest.raises(ValueError, match=f"output_power must be at most {most}"):
        heat_model(swept(tmp_path)).losses(loaded)


def test_a_mode_nobody_noted_widens_the_loss_and_says_so(tmp_path):
    model = heat_model(swept(tmp_path))
    known = model.loss_input(Loaded(8.0, 230.0, "C", "10 V"), "case.loss")
    assert (known.is_uncertain, known.origin) == (False, "measured")
    guess = model.loss_input(Loaded(8.0), "case.loss")
    assert guess.origin == "assumed"
    assert guess.ends == pytest.approx((loss("10 V", 230, 8), loss("5 V", 230, 8)), rel=1e-3)
    assert "was not noted" in guess.said


@pytest.mark.parametrize(
    ("row", "counts"),
    [
        ("case top,50,24,closed,20", True),
        ("the case,50,24,,20", True),
        ("case top,50,24,open,20", False),
        ("case top,50,,closed,20", False),
        ("case top,50,24,closed,", False),
        ("case top,23,24,closed,20", False),
        ("transformer,50,24,closed,20", False),
    ],
)
def test_which_rows_tell_of_the_case(row, counts):
    place, warm, room, case, power = row.split(",")
    table = pd.DataFrame(
        {"place": [place], "temperature": [float(warm)], "ambient": [float(room or "nan")],
         "case": [case], "output_power": [float(power or "nan")]}
    )  # fmt: skip
    assert len(readings_of_case(table)) == counts


def test_the_fullest_reading_is_held_against_the_prediction(tmp_path):
    rows = "case,50,24,closed,10,230,C,10 V\ncase,45,24,closed,20,230,C,10 V\n"
    rows += "case,47,24,closed,20,230,C,10 V\n"
    model = heat_model(swept(tmp_path, rows))
    assert (model.fullest.line, model.fullest.reading.value) == (4, 47)
    assert len(model.readings) == 3
    # 0.5 % of 200 K, rectangular.
    assert model.fullest.reading.standard_uncertainty == pytest.approx(1 / 3**0.5)


def test_calibration_turns_the_factor_into_a_measured_one(tmp_path):
    """A case as warm as the balance says with the factor it starts from keeps that factor."""
    bare = heat_model(swept(tmp_path))
    assert bare.factor.origin == "assumed"
    lost = loss("10 V", 230, 20)
    warm = float(bare.balance(lost, 24.0).case)
    model = heat_model(swept(tmp_path, f"case,{warm:.2f},24,closed,20,230,C,10 V\n"))
    assert model.factor.origin == "measured"
    assert model.factor.middle == pytest.approx(allowance("case.transfer_factor").middle, rel=0.01)
    # One reading: the thermometer's 1 K limit and 2 K of contact, over the rise and the slope.
    sensor = np.hypot(1 / 3**0.5, 2 / 3**0.5)
    expected = model.factor.middle * sensor / (warm - 24) / model.slope
    assert model.factor.distribution.std() == pytest.approx(expected, rel=0.03)


def plain_model():
    """10 K rise of the case at 2 W, by a box that gives off in proportion to the rise."""

    class Straight(HeatModel):
        def losses(self, loaded):
            if loaded.output_power > 20:
                raise ValueError("beyond the sweep")
            return (loaded.output_power / 10, loaded.output_power / 10)

        def rise(self, loss_power, ambient, factor=None):
            return 5 * np.asarray(loss_power)

        largest_power = 20.0

    loading = Loading.__new__(Loading)
    return Straight((0.06, 0.05, 0.03), (loading,), 0.1, allowance("case.transfer_factor"), (), 0.8)


@pytest.mark.parametrize(
    ("found", "resistance"),
    [
        # 40 K above the room at 2 W, of which the case takes 10 K: 15 K/W. The coolest tells.
        ([(64, 24, 20), (54, 24, 20)], 10),
        # Loads below nine tenths of the largest do not count.
        ([(64, 24, 20), (25, 24, 17)], 15),
        ([(64, 24, 20), (54, 24, 18.5)], (54 - 24) / 1.85 - 5),
        # Nor do readings without room or load, or beyond the sweep.
        ([(64, None, 20), (64, 24, None), (30, 24, 25)], None),
        # Nothing is cooler than the case.
        ([(30, 24, 20)], 0),
        ([], None),
    ],
)
def test_the_coolest_part_at_full_load_tells_of_the_inner_air(found, resistance):
    rows = [(warm, room, None if power is None else Loaded(power)) for warm, room, power in found]
    answer = coolest_resistance(plain_model(), rows)
    assert answer == (None if resistance is None else pytest.approx(resistance))


@pytest.mark.parametrize(
    ("loaded", "said"),
    [
        (Loaded(27.0, 230.2, "C", "12 V"), "at 27 W in mode C 12 V on 230 V"),
        (Loaded(13.5, 115.0), "at 13.5 W on 115 V"),
        (Loaded(5.0, None, "", "5 V"), "at 5 W in mode 5 V"),
        (Loaded(5.0), "at 5 W"),
    ],
)
def test_a_load_as_said(loaded, said):
    assert loaded.said == said
