"""Entries that contradict each other are said with both places."""

import pytest

from adapterlab.dossier import inspect_dossier

PLATE = '[nameplate]\nname = "thing"\nrated_power = "20 W"\n'
PORTS = '[[ports]]\nname = "C"\nmodes = [{ name = "20 V", voltage = "20 V", current = "1 A" }]\n'
CONVERTER = (
    '[[construction.converters]]\nname = "main"\nrated_power = "20 W"\n'
    'rectifier_drop = "0.5 V"\nefficiency = "{}"\n'
)
HEAD = (
    "point,mains_voltage_v,mains_frequency_hz,mains_current_a,input_power_w,port,mode,"
    "output_voltage_v,output_current_a\n"
)


def warnings(folder, text, rows=()):
    (folder / "adapter.toml").write_text(PLATE + text, encoding="utf-8")
    if rows:
        (folder / "load_sweep.csv").write_text(HEAD + "".join(rows), encoding="utf-8")
    return [p for p in inspect_dossier(folder)[1] if p.severity == "warning"]


def test_a_part_listed_twice(tmp_path):
    text = (
        '[[parts]]\nreference = "C1"\nkind = "capacitor"\nvalue = "1 nF"\n'
        '[[parts]]\nreference = "R1"\nkind = "resistor"\n'
        '[[parts]]\nreference = "C1"\nkind = "capacitor"\nvalue = "2.2 nF"\nmarked = "222M"\n'
    )
    found = warnings(tmp_path, text)
    assert len(found) == 1
    # adapter.toml: the nameplate takes three lines.
    assert found[0].line == 12
    assert "line 5: capacitor, 1e-09 F" in found[0].message
    assert "line 12: capacitor, 2.2e-09 F, marked '222M'" in found[0].message


@pytest.mark.parametrize(
    ("efficiency", "warned"),
    [
        # 20.5 V times 1 A over the efficiency, against 22 W from the mains.
        pytest.param("95 %", False, id="21.6 W"),
        pytest.param("90 %", True, id="22.8 W"),
        pytest.param("93.5 %", False, id="21.93 W"),
        pytest.param("93 %", True, id="22.04 W"),
    ],
)
def test_a_converter_that_draws_more_than_the_mains_gave(tmp_path, efficiency, warned):
    rows = ["1,230,50,0.2,12,C,20 V,20,0.5\n", "2,230,50,0.2,22,C,20 V,20,1\n"]
    found = warnings(tmp_path, PORTS + CONVERTER.format(efficiency), rows)
    assert bool(found) is warned
    if warned:
        assert (found[0].file, found[0].line) == ("load_sweep.csv", 3)
        assert "adapter.toml, line 11, construction.converters" in found[0].message


def test_only_the_largest_load_counts(tmp_path):
    """The efficiency is that at full load; at half of it the same one may not hold."""
    rows = ["1,230,50,0.2,10.4,C,20 V,20,0.5\n", "2,230,50,0.2,24,C,20 V,20,1\n"]
    assert not warnings(tmp_path, PORTS + CONVERTER.format("90 %"), rows)


@pytest.mark.parametrize("change", ["another converter", "no efficiency", "another port"])
def test_no_blank_makes_a_warning(tmp_path, change):
    """A converter of unknown efficiency, or of another port, may be the one that feeds it."""
    text = CONVERTER.format("80 %")
    if change == "another converter":
        text += '[[construction.converters]]\nname = "second"\nrated_power = "20 W"\n'
    if change == "no efficiency":
        text = text.replace('efficiency = "80 %"\n', "")
    if change == "another port":
        text += 'ports = ["A"]\n'
        text = '[[ports]]\nname = "A"\nmodes = [{ name = "5 V", voltage = "5 V", current = "1 A" }]\n' + text  # fmt: skip # noqa: E501
    assert not warnings(tmp_path, PORTS + text, ["1,230,50,0.2,22,C,20 V,20,1\n"])


def test_more_out_than_in_is_said_once(tmp_path):
    found = warnings(tmp_path, PORTS + CONVERTER.format("90 %"), ["1,230,50,0.2,19,C,20 V,20,1\n"])
    assert len(found) == 1
    assert "efficiency over 1" in found[0].message
