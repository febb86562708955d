"""Power stages, what feeds them and what they have to bear: every choice by hand."""

from math import sqrt

import numpy as np
import pytest

from adapterlab.assess.model.feeds import bulk_capacitance, bulk_inputs, bulk_voltage, rated_share
from adapterlab.assess.model.mains import highest_mains, top_of_mains
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.model.stages import missing, modes_of, parts_of, stages_of
from adapterlab.assess.model.stresses import clamp_of, stresses_of, why_not_rated
from adapterlab.dossier import read_dossier

PLATE = '[nameplate]\nname = "plain"\nrated_power = "30 W"\n'
PORTS = """
[[ports]]
name = "C"
modes = [
    { name = "5 V", voltage = "5 V", current = "3 A" },
    { name = "20 V", voltage = "20 V", current = "1.5 A" },
    { name = "any", kind = "adjustable", minimum_voltage = "3.3 V", maximum_voltage = "21 V", current = "2 A" },
]
[[ports]]
name = "A"
modes = [{ name = "5 V", voltage = "5 V", current = "2 A" }]
"""
MAIN = """
[[construction.converters]]
name = "main"
rated_power = "20 W"
turns_ratio = "5"
magnetising_inductance = "400 uH"
magnetising_inductance_tolerance = "10 %"
"""


def specimen(tmp_path, *texts, plate=PLATE + PORTS):
    (tmp_path / "adapter.toml").write_text(plate + "".join(texts), encoding="utf-8")
    return specimen_of(read_dossier(tmp_path))


def built(topology="flyback", rectifier="diode"):
    return f'[construction]\ntopology = "{topology}"\nrectifier = "{rectifier}"\n'


def part(reference, role, kind, value="", **rest):
    lines = [f'{name} = "{text}"' for name, text in rest.items()]
    lines += [f'value = "{value}"'] if value else []
    return (
        f'[[parts]]\nreference = "{reference}"\nrole = "{role}"\nkind = "{kind}"\n'
        + "\n".join(lines)
        + "\n"
    )


# ---- stages


def test_a_stage_at_the_mode_of_highest_power(tmp_path):
    (stage,) = stages_of(specimen(tmp_path, built(), MAIN))
    # 20 V times 1.5 A is more than 5 V times 3 A; the converter gives 20 W only.
    assert (stage.output_voltage, stage.output_current) == (20.0, 1.0)
    assert (stage.lowest_voltage, stage.highest_voltage, stage.largest_current) == (3.3, 21.0, 3.0)
    assert (stage.rated_power, stage.joins_above, stage.turns_ratio) == (20.0, 0.0, 5.0)
    assert stage.ports == ("C", "A")
    assert stage.magnetising_inductance.origin == "marked"
    assert stage.magnetising_inductance.ends == pytest.approx((360e-6, 440e-6))
    assert stage.supposed == ("a frequency that keeps the current at the boundary",)


def test_a_stage_as_it_is_noted(tmp_path):
    more = (
        'switching_frequency = "85 kHz"\nports = ["A"]\njoins_above = "12 W"\n'
        'rectifier_drop = "0.45 V"\nefficiency = "91 %"\noutput_capacitance = "470 uF"\n'
        'output_esr = "12 mohm"\noutput_esl = "4 nH"\ndrain_capacitance = "60 pF"\n'
        'clamp_voltage = "120 V"\nleakage_inductance = "5 uH"\n'
    )
    made = specimen(tmp_path, built("unknown", "synchronous"), MAIN + more)
    (stage,) = stages_of(made)
    assert (stage.output_voltage, stage.output_current) == (5.0, 2.0)
    assert (stage.lowest_voltage, stage.highest_voltage, stage.largest_current) == (5.0, 5.0, 2.0)
    assert (stage.joins_above, stage.switching_frequency) == (12.0, 85e3)
    assert stage.ports == ("A",)
    assert stage.supposed == ("a flyback converter",)
    assert stage.assumed == ("a flyback converter",)
    assert (stage.rectifier_drop.middle, stage.rectifier_drop.origin) == (0.45, "noted")
    assert (stage.efficiency.middle, stage.efficiency.origin) == (0.91, "noted")
    assert (stage.output_capacitance, stage.output_esr, stage.output_esl) == (470e-6, 12e-3, 4e-9)
    assert (stage.drain_capacitance, stage.clamp_voltage) == (60e-12, 120.0)
    assert stage.leakage_inductance == pytest.approx(5e-6)
    assert stage.rectifier == "synchronous"
    # What it takes from the bulk: output and rectifier over the efficiency.
    assert stage.power() == pytest.approx((5 + 0.45) * 2 / 0.91)
    assert stage.power({"main.efficiency": 0.5}) == pytest.approx((5 + 0.45) * 2 / 0.5)
    assert stage.numbers() == {
        "output_voltage": 5.0, "output_current": 2.0, "turns_ratio": 5.0,
        "magnetising_inductance": pytest.approx(400e-6), "switching_frequency": 85e3,
        "diode_drop": 0.45, "efficiency": 0.91,
    }  # fmt: skip
    assert set(stage.inputs) == {
        "main.magnetising_inductance", "main.rectifier_drop", "main.efficiency",
    }  # fmt: skip


def test_what_is_not_noted_is_assumed_by_name(tmp_path):
    bare = MAIN.replace('magnetising_inductance_tolerance = "10 %"\n', "")
    (stage,) = stages_of(specimen(tmp_path, built(), bare))
    assert {item.origin for item in stage.inputs.values()} == {"assumed"}
    assert stage.magnetising_inductance.middle == pytest.approx(400e-6)
    low, high = stage.magnetising_inductance.ends
    assert low < 400e-6 < high
    assert low + high == pytest.approx(800e-6)
    assert len(stage.assumed) == 4


@pytest.mark.parametrize("rectifier", ["diode", "synchronous", "unknown"])
def test_a_diode_drops_more_than_a_transistor(tmp_path, rectifier):
    """Common practice: 0.3 to 1 V of a diode, some tens of millivolts of a transistor."""
    (stage,) = stages_of(specimen(tmp_path, built(rectifier=rectifier), MAIN))
    low, high = stage.rectifier_drop.ends
    if rectifier == "diode":
        assert 0.25 <= low < high <= 1.2
    if rectifier == "synchronous":
        assert 0 <= low < high <= 0.3
    if rectifier == "unknown":
        assert low <= 0.1 and high >= 0.5  # noqa: PT018


def test_what_a_converter_lacks(tmp_path):
    poor = '[[construction.converters]]\nname = "poor"\nrated_power = "9 W"\nports = ["X"]\nturns_ratio = "0"\n'
    made = specimen(tmp_path, built(), MAIN, poor)
    main, second = made.adapter.construction.converters
    assert missing(made, main) == []
    assert missing(made, second) == [
        "turns_ratio", "magnetising_inductance", "a fixed mode of one of its ports",
    ]  # fmt: skip
    assert [stage.name for stage in stages_of(made)] == ["main"]
    assert [mode.name for mode in modes_of(made, main)] == ["5 V", "20 V", "any", "5 V"]
    assert modes_of(made, second) == []


def test_other_converters_are_no_flybacks(tmp_path):
    assert stages_of(specimen(tmp_path, built("other"), MAIN)) == ()


@pytest.mark.parametrize(
    ("whose", "converters", "leakage"),
    [("main", 1, 7e-6), ("", 1, 7e-6), ("main", 2, 7e-6), ("", 2, None), ("second", 2, None)],
)
def test_leakage_is_that_of_its_own_transformer(tmp_path, whose, converters, leakage):
    second = MAIN.replace('"main"', '"second"') if converters == 2 else ""
    transformer = f'[[transformers]]\nconverter = "{whose}"\nleakage_inductance = "7 uH"\n'
    stage = stages_of(specimen(tmp_path, built(), MAIN, second, transformer))[0]
    assert stage.leakage_inductance == (leakage if leakage is None else pytest.approx(leakage))


def test_parts_of_a_converter(tmp_path):
    made = specimen(
        tmp_path, built(), MAIN, MAIN.replace('"main"', '"second"'),
        part("Q1", "switch", "transistor", converter="main"),
        part("Q2", "switch", "transistor", converter="second"),
        part("Q3", "switch", "transistor"), part("X1", "switch", "other"),
    )  # fmt: skip
    main = stages_of(made)[0]
    assert [p.reference for p in parts_of(made, "switch", main)] == ["Q1", "Q3", "X1"]
    assert [p.reference for p in parts_of(made, "switch", main, "transistor")] == ["Q1", "Q3"]


# ---- what feeds them


def test_bulk_capacitors_in_series_and_beside_each_other(tmp_path):
    """47 µF, and 22 with 33 µF in series: 47 + 22 · 33 / 55 µF."""
    made = specimen(
        tmp_path,
        part("C1", "bulk capacitor", "capacitor", "47 uF", tolerance="20 %"),
        part("C2", "bulk capacitor", "capacitor", "22 uF", tolerance="20 %", in_series_with="C3"),
        part("C3", "bulk capacitor", "capacitor", "33 uF", tolerance="20 %"),
    )
    assert set(bulk_inputs(made)) == {"C1.value", "C2.value", "C3.value"}
    assert bulk_capacitance(made) == pytest.approx(47e-6 + 22e-6 * 33e-6 / 55e-6)
    assert bulk_capacitance(made, {"C1.value": 40e-6}) == pytest.approx(53.2e-6)


def test_one_bulk_capacitor_without_its_value_leaves_none_known(tmp_path):
    made = specimen(
        tmp_path,
        part("C1", "bulk capacitor", "capacitor", "47 uF", tolerance="20 %"),
        part("C2", "bulk capacitor", "capacitor"),
    )
    assert bulk_inputs(made) == {}


def test_bulk_voltage_at_the_crest_and_in_the_valley():
    """230 V: 325.27 V less two diodes; in the valley the energy of the load is missing.

    With the bridge blocking from the crest until it conducts again at a time t after it, by
    bisection of C/2 (V1² - V2²) = P t with V2 on the rising mains.
    """
    crest = bulk_voltage((230.0, 50.0), 1.5)
    assert crest == pytest.approx(230 * sqrt(2) - 1.5)
    power, store = 40.0, 68e-6
    low, high = 5e-3, 10e-3
    for _ in range(60):
        time = (low + high) / 2
        left = crest**2 - 2 * power * time / store
        mains = (crest * abs(np.cos(2 * np.pi * 50 * time))) ** 2
        low, high = (low, time) if mains > left else (time, high)
    valley = bulk_voltage((230.0, 50.0), 1.5, power, store)
    assert valley == pytest.approx(sqrt(left), rel=1e-6)
    assert bulk_voltage((230.0, 50.0), 1.5, 1e-9, store) == pytest.approx(crest, rel=1e-5)


def test_converters_give_no_more_than_the_nameplate_together(tmp_path):
    made = specimen(tmp_path, built(), MAIN, MAIN.replace('"main"', '"second"'))
    both = stages_of(made)
    # Two times 20 W on a plate of 30 W.
    assert rated_share(made, both) == pytest.approx(30 / 40)
    assert rated_share(made, both[:1]) == 1.0
    assert rated_share(made, []) == 1.0


def test_the_mains_at_its_highest(tmp_path):
    """The highest rated mains, 240 V where none is noted, and 10 % on top (EN 50160)."""
    plate = PLATE + 'input_voltage_maximum = "264 V"\n'
    (tmp_path / "b").mkdir()
    noted, bare = specimen(tmp_path / "b", plate=plate), specimen(tmp_path)
    assert (highest_mains(noted), highest_mains(bare)) == (264.0, 240.0)
    assert top_of_mains(bare) == pytest.approx(264.0)


# ---- what they have to bear


def stress(made):
    (stage,) = stages_of(made)
    return {item.part: item for item in stresses_of(made, stage)}


NOTED = 'switching_frequency = "85 kHz"\nrectifier_drop = "0.5 V"\nefficiency = "90 %"\n'


def test_plateaus_are_those_of_an_ideal_flyback(tmp_path):
    """Switch: bulk and reflected voltage; rectifier: output and bulk over the turns ratio.

    At the top of the mains, 264 V, and the highest output voltage, 21 V; the bridge's drop is
    assumed between 1.2 and 2 V or so, hence the volt.
    """
    found = stress(specimen(tmp_path, built(), MAIN + NOTED))
    crest = 264 * sqrt(2) - 1.5
    assert found["switch"].plateau.value.value == pytest.approx(crest + 5 * 21.5, abs=1.0)
    assert found["output rectifier"].plateau.value.value == pytest.approx(21 + crest / 5, abs=0.3)
    # No clamp, no snubber and no reading: the peak is not known.
    assert found["switch"].top is None
    assert found["output rectifier"].top is None
    assert found["switch"].highest is found["switch"].plateau
    assert found["switch"].rating is None


def test_a_clamp_as_it_was_read_cuts_the_spike(tmp_path):
    """150 V above the bulk and its diode of 0.5 to 1.5 V or so, more than the 107.5 V reflected."""
    found = stress(specimen(tmp_path, built(), MAIN + NOTED + 'clamp_voltage = "150 V"\n'))
    crest = 264 * sqrt(2) - 1.5
    assert found["switch"].top.value.value == pytest.approx(crest + 150 + 1.0, abs=1.5)
    assert found["switch"].highest is found["switch"].top


def test_a_clamp_below_the_reflected_voltage_never_lowers_the_plateau(tmp_path):
    found = stress(specimen(tmp_path, built(), MAIN + NOTED + 'clamp_voltage = "50 V"\n'))
    assert found["switch"].top.value.value == pytest.approx(found["switch"].plateau.value.value)


def test_ringing_as_it_was_read_comes_on_top_of_the_step(tmp_path):
    """40 % of output, drop and bulk over the turns ratio."""
    found = stress(specimen(tmp_path, built(), MAIN + NOTED + 'rectifier_ringing = "40 %"\n'))
    crest = 264 * sqrt(2) - 1.5
    blocked = 21 + crest / 5
    expected = blocked + 0.4 * (blocked + 0.5)
    assert found["output rectifier"].top.value.value == pytest.approx(expected, rel=0.01)


def test_a_snubber_leaves_less_than_all_of_it(tmp_path):
    found = stress(
        specimen(tmp_path, built(), MAIN + NOTED, part("R9", "snubber", "resistor", "10 ohm"))
    )
    rectifier = found["output rectifier"]
    # Undamped ringing would reach twice the step.
    assert rectifier.plateau.value.value < rectifier.top.value.value
    assert rectifier.top.value.value < 2 * rectifier.plateau.value.value


def test_the_part_with_the_lowest_rating_counts(tmp_path):
    made = specimen(
        tmp_path, built(), MAIN + NOTED,
        part("Q1", "switch", "transistor", rated_voltage="700 V"),
        part("Q2", "switch", "transistor", rated_voltage="650 V"),
        part("Q3", "switch", "transistor"),
        part("D5", "output rectifier", "diode", rated_voltage="150 V"),
    )  # fmt: skip
    found = stress(made)
    assert (found["switch"].reference, found["switch"].rating) == ("Q2", 650.0)
    assert (found["output rectifier"].reference, found["output rectifier"].rating) == ("D5", 150.0)


RESISTOR = part("R5", "clamp", "resistor", "100 kohm", tolerance="5 %")


@pytest.mark.parametrize(
    ("converters", "whose", "found"),
    [(1, "", True), (1, "main", True), (2, "", False), (2, "main", True), (2, "second", False)],
)
def test_a_clamp_resistor_belongs_to_one_converter(tmp_path, converters, whose, found):
    second = MAIN.replace('"main"', '"second"') if converters == 2 else ""
    text = RESISTOR + (f'converter = "{whose}"\n' if whose else "")
    made = specimen(tmp_path, built(), MAIN, second, text)
    clamp = clamp_of(made, stages_of(made)[0])
    assert (clamp.resistor is not None) is found
    assert (clamp.resistance is not None) is found


def test_what_tells_the_voltage_of_a_clamp(tmp_path):
    folders = [tmp_path / name for name in "abcd"]
    for folder in folders:
        folder.mkdir()

    def names(folder, more, *parts):
        made = specimen(folder, built(), MAIN + more, *parts)
        clamp = clamp_of(made, stages_of(made)[0])
        return set(clamp.inputs), set(clamp.by_its_resistor)

    drop = "main.clamp.diode_drop"
    leakage, read = 'leakage_inductance = "5 uH"\n', 'clamp_voltage = "120 V"\n'
    by_resistor = {"main.leakage_inductance", "R5.value", drop}
    assert names(folders[0], leakage, RESISTOR) == (by_resistor, by_resistor)
    assert names(folders[1], "", RESISTOR) == (set(), set())
    assert names(folders[2], leakage) == (set(), set())
    assert names(folders[3], leakage + read, RESISTOR) == (
        {"main.clamp_voltage", drop},
        by_resistor,
    )


@pytest.mark.parametrize(
    ("identified", "said"),
    [("read", ""), ("inferred", "Q1 is inferred"), ("unknown", "how Q1 was identified")],
)
def test_a_rating_counts_only_if_it_was_read(tmp_path, identified, said):
    made = specimen(tmp_path, part("Q1", "switch", "transistor", identified_by=identified))
    assert why_not_rated(made.adapter.parts[0]).startswith(said)
    assert bool(why_not_rated(made.adapter.parts[0])) is bool(said)
