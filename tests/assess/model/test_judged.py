"""Which loads a rule judges, by the rules' own words.

EU 2019/1782 judges every output voltage that was measured. EU 2025/2052, Annex II, 1(h), (i) and note
2, and 10 CFR 430 subpart B, appendix Z, 6(a): an adapter whose voltage follows the device at its
lowest and its highest voltage, with 2 A as 100 % at the lowest of a USB-C port able to give 3 A.
"""

import tomllib

import pytest

from adapterlab.assess.model.judged import (
    cables_of,
    fixed_modes,
    is_adaptive,
    is_multiple_voltage,
    judged_loadings,
    title,
)
from adapterlab.dossier.schema import Adapter

NEWER = ("eu-2025-2052", "us-vi")


def modes(*pairs):
    return ", ".join(
        f'{{ name = "{volts:g} V", voltage = "{volts:g} V", current = "{amperes} A" }}'
        for volts, amperes in pairs
    )


def port(name, *pairs, connector="USB-C"):
    return f'[[ports]]\nname = "{name}"\nconnector = "{connector}"\nmodes = [{modes(*pairs)}]\n'


def together(power, **outputs):
    rows = ", ".join(
        f'{{ port = "{name}", mode = "{volts:g} V", current = "{amperes} A" }}'
        for name, (volts, amperes) in outputs.items()
    )
    return f'[[combinations]]\ntotal_power = "{power} W"\noutputs = [{rows}]\n'


def adapter(*texts):
    text = '[nameplate]\nname = "fir-20"\nrated_power = "20 W"\n' + "".join(texts)
    return Adapter.model_validate(tomllib.loads(text))


def key(*pairs):
    return tuple((name, f"{volts:g} V", 0.0) for name, volts in pairs)


def told(found):
    return [
        (item.key[0][1], item.role, item.power, item.nameplate_power, item.category)
        for item in found
    ]


THREE = port("C", (9, 3), (5, 3), (20, 1))


def test_names_of_the_rules():
    assert [title(rule) for rule in ("eu-2019-1782", *NEWER)] == [
        "EU 2019/1782",
        "EU 2025/2052",
        "US level VI",
    ]


def test_without_ports_nothing_is_judged():
    assert judged_loadings(adapter(), "us-vi", set()) == []
    only = '[[ports]]\nname = "C"\nmodes = [{ name = "any", kind = "adjustable", minimum_voltage = "3 V", maximum_voltage = "9 V", current = "1 A" }]\n'
    assert judged_loadings(adapter(only), "us-vi", set()) == []


def test_fixed_modes_rise():
    assert [mode.voltage for mode in fixed_modes(adapter(THREE).ports[0])] == [5, 9, 20]


@pytest.mark.parametrize("rule", NEWER)
def test_an_adaptive_port_is_judged_at_its_ends(rule):
    found = judged_loadings(adapter(THREE), rule, {key(("C", 9))})
    assert told(found) == [
        # 5 V times 2 A instead of 3 A; low-voltage is below 6 V and from 550 mA on.
        ("5 V", "lowest voltage", 10.0, 15.0, "low-voltage"),
        ("20 V", "highest voltage", 20.0, 20.0, "basic"),
    ]
    assert [item.adaptive for item in found] == [True, True]
    assert found[0].currents == {"C": 2.0}
    assert found[0].nameplate_currents == {"C": 3.0}
    assert found[0].key == key(("C", 5))


@pytest.mark.parametrize("rule", NEWER)
@pytest.mark.parametrize(
    ("made", "power"),
    [
        (port("C", (5, 3), (9, 2)), 10.0),
        (port("C", (5, 2.99), (9, 2)), 14.95),  # not able to give 3 A
        (port("C", (5, 3), (9, 2), connector="USB-A"), 15.0),  # not USB-C
        (port("C", (5, 3), (9, 2), connector="usb type-c receptacle"), 10.0),
        (port("C", (5, 3), (9, 2), connector="USB Type-C"), 10.0),
        (port("C", (5, 3)), 15.0),  # its voltage follows nothing
    ],
)
def test_when_two_amperes_count_as_all(rule, made, power):
    assert judged_loadings(adapter(made), rule, set())[0].power == pytest.approx(power)


def test_the_older_rule_judges_what_was_measured_and_never_less_current():
    measured = {key(("C", 9)), key(("C", 20)), key(("D", 5))}
    found = judged_loadings(adapter(THREE), "eu-2019-1782", measured)
    assert told(found) == [
        ("9 V", "", 27.0, 27.0, "basic"),
        ("20 V", "highest voltage", 20.0, 20.0, "basic"),
    ]
    # Where nothing was measured, the lowest stands for what is to be measured.
    assert told(judged_loadings(adapter(THREE), "eu-2019-1782", set())) == [
        ("5 V", "lowest voltage", 15.0, 15.0, "low-voltage")
    ]


@pytest.mark.parametrize("rule", NEWER)
def test_a_single_voltage_is_judged_once(rule):
    found = judged_loadings(adapter(port("C", (12, 2))), rule, set())
    assert told(found) == [("12 V", "lowest voltage", 24.0, 24.0, "basic")]
    assert not found[0].adaptive


def test_adaptive_and_several_voltages():
    one, two = port("C", (5, 3), (9, 2)), port("A", (5, 2))
    assert is_adaptive(adapter(one).ports[0])
    assert not is_adaptive(adapter(two).ports[0])
    assert not is_multiple_voltage(adapter(one))
    assert is_multiple_voltage(adapter(one, two))
    assert not is_multiple_voltage(adapter(two, two.replace('"A"', '"B"')))


PORTS = port("C", (5, 3), (20, 1)) + port("A", (5, 2), connector="USB-A")
LOW, HIGH = together(25, A=(5, 2), C=(5, 3)), together(30, C=(20, 1), A=(5, 2))
MIDDLE = together(18, C=(9, 1), A=(5, 1.8))


@pytest.mark.parametrize("rule", NEWER)
def test_combinations_are_judged_at_their_ends(rule):
    """Power over current: 25 W over 5 A is 5 V, 30 W over 3 A is 10 V."""
    found = judged_loadings(adapter(PORTS, HIGH, LOW), rule, set())
    assert [(item.key, item.role) for item in found] == [
        (key(("C", 5), ("A", 5)), "lowest voltage"),
        (key(("C", 20), ("A", 5)), "highest voltage"),
    ]
    # The USB-C port counts with 2 A of its 3 A at the lowest voltage: 5 W less.
    assert found[0].currents == {"C": 2.0, "A": 2.0}
    assert found[0].nameplate_currents == {"C": 3.0, "A": 2.0}
    assert (found[0].power, found[0].nameplate_power) == (20.0, 25.0)
    assert (found[1].power, found[1].nameplate_power) == (30.0, 30.0)
    assert {item.category for item in found} == {"multiple-voltage"}
    assert all(item.adaptive for item in found)


def test_a_combination_with_a_mode_that_is_not_on_the_plate_tells_nothing():
    found = judged_loadings(adapter(PORTS, MIDDLE, HIGH), "us-vi", set())
    assert [item.key for item in found] == [key(("C", 20), ("A", 5))]


def test_the_older_rule_judges_the_combinations_measured():
    made = adapter(PORTS, HIGH, LOW)
    low = key(("C", 5), ("A", 5))
    assert [item.key for item in judged_loadings(made, "eu-2019-1782", {low})] == [low]
    # None measured: the highest.
    (found,) = judged_loadings(made, "eu-2019-1782", set())
    assert found.key == key(("C", 20), ("A", 5))
    assert found.power == 30.0


def test_ports_that_follow_nothing_are_judged_together_once():
    """Two ports of 5 V: one voltage, and its category by the current of both."""
    two = port("A", (5, 0.5)) + port("B", (5, 0.5))
    (found,) = judged_loadings(
        adapter(two, together(5, A=(5, 0.5), B=(5, 0.5)), together(4, A=(5, 0.4), B=(5, 0.4))),
        "us-vi",
        set(),
    )
    assert found.category == "low-voltage"
    assert not found.adaptive


def test_cables_are_those_of_the_rule_that_has_them():
    made = adapter(PORTS)
    assert cables_of(made, "eu-2025-2052") == {"C": ("USB-C", 3.0), "A": ("other", 2.0)}
    assert cables_of(made, "eu-2019-1782") is None
