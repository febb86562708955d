"""A year of use and two meters at the mains, by hand and with what a dossier may lack."""

import pytest

from adapterlab.assess import efficiency as section
from adapterlab.dossier import read_dossier

PLATE = """
[nameplate]
name = "fir-20"
rated_power = "20 W"
[[ports]]
name = "C"
modes = [{ name = "20 V", voltage = "20 V", current = "1 A" }]
"""
SWEEP = (
    "point,mains_voltage_v,mains_frequency_hz,input_power_w,second_input_power_w,port,mode,"
    "output_voltage_v,output_current_a\n"
)
PROFILE = """
[[profiles]]
name = "evenings"
uses = [
    { hours = 1000, output_power = "10 W", ambient = "20 C" },
    { hours = 7760, output_power = "0 W", ambient = "20 C" },
]
"""


def folder(tmp_path, extra="", rows=None, idle=True):
    (tmp_path / "adapter.toml").write_text(PLATE + extra)
    # Losses of 0.5 W + 5 % + 0.001/W, exactly.
    lines = [
        f"{n},230,50,{20 * i + 0.5 + 0.05 * 20 * i + 0.001 * (20 * i) ** 2:.6f},,C,20 V,20,{i}"
        for n, i in enumerate((1.0, 0.75, 0.5, 0.25, 0.1), start=1)
    ]
    (tmp_path / "load_sweep.csv").write_text(SWEEP + "\n".join(rows or lines) + "\n")
    if idle:
        (tmp_path / "no_load.csv").write_text(
            "mains_voltage_v,mains_frequency_hz,power_w,cable\n230,50,0.05,none\n"
        )
    return read_dossier(tmp_path)


def said(dossier, word):
    return [f.sentence for f in section.assess(dossier).findings if word in f.question]


def test_profile_by_hand(tmp_path):
    """1000 h at 10 W: 11.1 W drawn; 7760 h at 0.05 W: 11.1 + 0.388 = 11.49 kWh. Nothing is known
    of the meters: 2 % of 11.1 kWh, 1 % and 2 % of 10 kWh, each over the root of three, are
    0.18 kWh. A curve takes gain and range error with either sign, which for a gain alone is the
    root of two of that, 0.26 kWh: with 10 % of 0.388 kWh, 0.5 kWh at 95 %."""
    extra = PROFILE + '[energy]\nprice_per_kwh = 0.25\ncurrency = "EUR"\ncarbon_per_kwh = "400 g"\n'
    (sentence,) = said(folder(tmp_path, extra), "a year of evenings")
    assert "draws (11.5 ± 0.5) kWh, of which (1.5 ± 0.5) kWh become heat" in sentence
    assert "(2.87 ± 0.13) EUR and (4.6 ± 0.2) kg of carbon dioxide" in sentence
    assert "±2 % assumed for the meter of input power" in sentence


def test_no_price_is_built_in(tmp_path):
    (sentence,) = said(folder(tmp_path, PROFILE), "a year of evenings")
    assert "with the figures stated" not in sentence


def test_a_profile_beyond_the_sweep_is_not_extrapolated(tmp_path):
    extra = PROFILE.replace('"10 W"', '"30 W"')
    (sentence,) = said(folder(tmp_path, extra), "a year of evenings")
    assert "within the load sweep (up to 20 W)" in sentence


def test_hours_without_load_need_a_reading(tmp_path):
    (sentence,) = said(folder(tmp_path, PROFILE, idle=False), "a year of evenings")
    assert "no_load.csv for hours without load" in sentence


def test_an_overfull_year_is_named(tmp_path):
    extra = PROFILE.replace("hours = 1000", "hours = 2000")
    (sentence,) = said(folder(tmp_path, extra), "a year of evenings")
    assert "must sum to a year at most" in sentence


METERS = "".join(
    f'[[instruments]]\nname = "{name}"\nmeasures = "input power"\nfraction_of_reading = "{share}"\n'
    for name, share in (("analyser", "0.1 %"), ("plug-in meter", "1 %"))
)


def rows_with(second):
    return [f"{n},230,50,10,{value},C,20 V,20,0.45" for n, value in enumerate(second, start=1)]


@pytest.mark.parametrize(
    ("second", "word"), [(["10.05", "10.1"], "explained"), (["10.05", "10.3"], "unexplained")]
)
def test_two_meters_agree_within_both_their_limits(tmp_path, second, word):
    """Limits 0.1 % and 1 % of 10 W: u = hypot(0.00577, 0.0595) W, so 0.12 W is the bound."""
    dossier = folder(tmp_path, METERS, rows_with(second))
    (finding,) = [f for f in section.assess(dossier).findings if "two meters" in f.question]
    assert finding.word == word
    assert "point 2 on plug-in meter" in finding.sentence


def test_two_readings_need_two_meters(tmp_path):
    (sentence,) = said(folder(tmp_path, "", rows_with(["10.3"])), "two meters")
    assert "accuracy of both meters" in sentence
