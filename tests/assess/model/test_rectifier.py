"""The parts between plug and converter: inputs by name, and the circuit worked out by hand."""

import pytest

from adapterlab.assess.model.rectifier import chains, rectifier_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.dossier import read_dossier
from adapterlab.dossier.schema import Part

NAMEPLATE = '[nameplate]\nname = "bare"\nrated_power = "20 W"\n'
BULK = """
[[parts]]
reference = "C1"
kind = "capacitor"
role = "bulk capacitor"
value = "33 uF"
tolerance = "10 %"
"""
DISC = """
[[parts]]
reference = "RT1"
kind = "thermistor"
role = "inrush limiter"
value = "10 ohm"
beta = "3000 K"
heat_capacity = "0.5 J/K"
dissipation_factor = "10 mW/K"
"""
CHOKE = """
[[parts]]
reference = "L1"
kind = "inductor"
role = "line choke"
series_resistance = "0.3 ohm"
"""


def rectifier(folder, text):
    (folder / "adapter.toml").write_text(NAMEPLATE + text, encoding="utf-8")
    return rectifier_of(specimen_of(read_dossier(folder)))


@pytest.mark.parametrize(
    ("links", "expected"),
    [
        # Series and parallel joined by hand, capacitances of 10, 20 and 40 uF.
        pytest.param(("", "C1", ""), 20e-6 / 3 + 40e-6, id="one-names-the-other"),
        pytest.param(("C2", "C1", ""), 20e-6 / 3 + 40e-6, id="each-names-the-other"),
        pytest.param(("C2", "C3", "C1"), 40e-6 / 7, id="round-a-circle"),
        pytest.param(("C1", "", ""), 70e-6, id="names-itself"),
    ],
)
def test_capacitors_in_series_count_once(links: tuple[str, ...], expected: float) -> None:
    parts = tuple(
        Part(reference=f"C{number}", kind="capacitor", in_series_with=link)
        for number, link in enumerate(links, start=1)
    )
    values = {"C1": 10e-6, "C2": 20e-6, "C3": 40e-6}
    found = sum(1 / sum(1 / values[p.reference] for p in chain) for chain in chains(parts))
    assert found == pytest.approx(expected)


class TestInputs:
    """Where each number is from: written by hand for every way a dossier may tell it."""

    @pytest.mark.parametrize(
        ("text", "name", "origin", "ends"),
        [
            ("", "supply.resistance", "assumed", (0.2, 0.8)),
            ('[supply]\nresistance = "0.5 ohm"\n', "supply.resistance", "noted", (0.45, 0.55)),
            (
                '[supply]\nresistance = "0.5 ohm"\nresistance_uncertainty = "0.02 ohm"\n',
                "supply.resistance", "noted", (0.48, 0.52),
            ),
            (
                '[supply]\ninductance = "5 uH"\ninductance_uncertainty = "8 uH"\n',
                "supply.inductance", "noted", (0.0, 13e-6),
            ),
            ("", "C1.value", "marked", (29.7e-6, 36.3e-6)),
            ("", "bulk.series_resistance", "assumed", (0.2, 2.0)),
            ("", "room.temperature", "assumed", (18.0, 28.0)),
            (DISC, "RT1.value", "assumed", (8.0, 12.0)),
            (DISC, "thermistor.beta", "noted", (3000.0, 3000.0)),
            (DISC.replace('beta = "3000 K"', ""), "thermistor.beta", "assumed", (2500.0, 3200.0)),
            (CHOKE, "choke.leakage", "assumed", (1e-6, 600e-6)),
            (CHOKE + 'value = "10 mH"\n', "choke.leakage_share", "assumed", (0.0003, 0.02)),
            (CHOKE + 'leakage_inductance = "50 uH"\n', "choke.leakage_factor", "assumed", (0.8, 1.2)),
        ],
    )  # fmt: skip
    def test_each_where_it_is_from(self, tmp_path, text, name, origin, ends):
        supply, parts = (text, "") if text.startswith("[supply]") else ("", text)
        item = rectifier(tmp_path, supply + BULK + parts).inputs[name]
        assert item.origin == origin
        assert item.ends == pytest.approx(ends)

    def test_what_is_not_needed_is_no_input(self, tmp_path):
        plain = rectifier(tmp_path, BULK).inputs
        assert not [name for name in plain if name.startswith(("thermistor", "choke", "inside"))]

    def test_each_state_of_the_limiter_has_its_own(self, tmp_path):
        found = rectifier(tmp_path, BULK + DISC)
        assert "thermistor.warm_share" in found.at_work
        assert "thermistor.warm_share" not in found.at_plug_in
        assert "thermistor.heat_capacity_factor" in found.at_plug_in
        assert "thermistor.heat_capacity_factor" not in found.at_work
        assert set(found.inputs) - set(found.at_work) - set(found.at_plug_in) == {"inside.air"}

    @pytest.mark.parametrize("missing", [DISC, BULK.replace('value = "33 uF"', "")])
    def test_without_a_bulk_capacitor_of_known_value_there_is_none(self, tmp_path, missing):
        assert rectifier(tmp_path, missing) is None


class TestPath:
    def test_by_hand(self, tmp_path):
        """0.5 supply + 0.1 wiring + 0.3 choke ohm; 5 uH + 20 uH; disc of 10 ohm, warm at 1/10."""
        found = rectifier(tmp_path, BULK + DISC + CHOKE + 'leakage_inductance = "20 uH"\n')
        values = {
            "supply.resistance": 0.5, "supply.inductance": 5e-6, "wiring.resistance": 0.1,
            "choke.leakage_factor": 1.0, "bridge.drop": 1.5, "bridge.resistance": 0.06,
            "bulk.series_resistance": 0.7, "C1.value": 33e-6, "RT1.value": 10.0,
            "thermistor.warm_share": 0.1, "thermistor.heat_capacity_factor": 1.1,
            "thermistor.dissipation_on_board": 0.9, "room.temperature": 22.0,
        }  # fmt: skip
        path = found.path(values)
        assert path.resistance == pytest.approx(0.9)
        assert path.inductance == pytest.approx(25e-6)
        assert path.other_resistance == pytest.approx(0.9 + 0.06 + 0.7)
        assert path.disc.heat_capacity == pytest.approx(0.55)
        assert path.disc.dissipation_factor == pytest.approx(0.009)
        assert found.running(values)["source_resistance"] == pytest.approx(1.9)
        assert path.at_plug_in()["ambient"] == 22.0

    def test_listed_series_resistance_of_two_in_parallel(self, tmp_path):
        """Two of 0.9 ohm side by side: 0.45 ohm, times 0.9, the middle of 0.5 to 1.3."""
        one = BULK + 'series_resistance = "0.9 ohm"\n'
        found = rectifier(tmp_path, one + one.replace("C1", "C2"))
        assert found.path({}).bulk_esr == pytest.approx(0.45 * 0.9)
        assert found.path({}).bulk_capacitance == pytest.approx(66e-6)
        assert found.label == "C1 and C2 (66 µF)"
