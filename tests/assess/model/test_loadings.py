"""Points and loadings of a sweep: what is taken, what is left out, every choice by hand."""

from math import sqrt

import numpy as np
import pytest

from adapterlab.assess.model.loadings import (
    active_points,
    fitted,
    load_fractions,
    main_loading,
    nearest,
    reference_currents,
    scatter_of,
    sweep_of,
)
from adapterlab.assess.model.meters import Reading
from adapterlab.assess.model.no_load import at_rest, largest, no_load_readings
from adapterlab.assess.model.points import Output, Point, loading_name, mains_name, points_read
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.dossier import read_dossier

PLATE = """
[nameplate]
name = "fir-20"
rated_power = "20 W"

[[ports]]
name = "C"
modes = [
    { name = "5 V", voltage = "5 V", current = "3 A" },
    { name = "20 V", voltage = "20 V", current = "1 A" },
    { name = "any", kind = "adjustable", minimum_voltage = "3.3 V", maximum_voltage = "11 V", current = "2 A" },
]
"""
SECOND = """
[[ports]]
name = "A"
modes = [{ name = "5 V", voltage = "5 V", current = "2 A" }]

[[combinations]]
total_power = "20 W"
outputs = [
    { port = "A", mode = "5 V", current = "1 A" },
    { port = "C", mode = "20 V", current = "0.75 A" },
]
"""
METERS = "".join(
    f"""
[[instruments]]
name = "meter"
measures = "{quantity}"
fraction_of_reading = "0.1 %"
resolution = {digit}
"""
    for quantity, digit in (
        ("input power", 0.01),
        ("output voltage", 0.001),
        ("output current", 0.001),
        ("no-load power", 0.001),
    )
)
HEAD = "point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,set_voltage_v,output_voltage_v,output_current_a\n"
LAW = (0.5, 0.05, 0.002)


def loss(power):
    return LAW[0] + LAW[1] * power + LAW[2] * power**2


def row(
    point, power=None, port="C", mode="20 V", volts=20.0, amperes=1.0, mains="230,50", asked=""
):
    drawn = volts * amperes + loss(volts * amperes) if power is None else power
    return f"{point},{mains},{drawn:.6f},{port},{mode},{asked},{volts},{amperes}\n"


def specimen(folder, *rows, plate=PLATE, idle=""):
    (folder / "adapter.toml").write_text(plate + METERS, encoding="utf-8")
    (folder / "load_sweep.csv").write_text(HEAD + "".join(rows), encoding="utf-8")
    if idle:
        head = "mains_voltage_v,mains_frequency_hz,power_w,cable\n"
        (folder / "no_load.csv").write_text(head + idle, encoding="utf-8")
    return specimen_of(read_dossier(folder))


def exact(value):
    return Reading(value, 0.0, 0.0, 0.0)


def point(name, power, volts=20.0, amperes=1.0, port="C", mode="20 V", mains=230.0):
    out = Output(port, mode, 0.0, exact(volts), exact(amperes))
    return Point(name, 2, mains, 50.0, exact(power), (out,))


# ---- points


def test_only_points_at_which_power_flows_are_read(tmp_path):
    found = points_read(
        specimen(
            tmp_path, row("a"), row("b", amperes=0.0), row("c", power=0.0, amperes=0.5),
            row("d", amperes=0.25),
        )
    )  # fmt: skip
    assert [item.name for item in found] == ["a", "d"]
    assert [item.line for item in found] == [2, 5]
    assert found[0].power.value == pytest.approx(20 + loss(20))
    assert found[1].output_power == pytest.approx(5.0)


def test_rows_of_one_point_come_in_the_order_of_the_nameplate(tmp_path):
    """The power is that of the first row; a port the plate doesn't know comes last."""
    made = specimen(
        tmp_path,
        row("p", power=25, port="Z", mode="?", volts=5.0, amperes=0.1),
        row("p", power=25, port="A", mode="5 V", volts=5.0, amperes=1.0),
        row("p", power=25, volts=20.0, amperes=0.75),
        plate=PLATE + SECOND,
    )
    (found,) = points_read(made)
    assert found.key == (("C", "20 V", 0.0), ("A", "5 V", 0.0), ("Z", "?", 0.0))
    assert found.output_power == pytest.approx(15 + 5 + 0.5)
    assert loading_name(made.adapter, found.key) == "C 20 V + A 5 V + Z ?"


def test_an_adjustable_mode_is_known_by_the_voltage_asked_for(tmp_path):
    made = specimen(
        tmp_path,
        row("a", mode="any", asked="9.004", volts=9.1),
        row("b", mode="any", volts=7.126),
        row("c", asked="20", volts=20.1),
    )
    keys = [item.key[0] for item in points_read(made)]
    assert keys == [("C", "any", 9.0), ("C", "any", 7.13), ("C", "20 V", 0.0)]
    assert loading_name(made.adapter, keys[:1]) == "any 9 V"


@pytest.mark.parametrize(
    ("volts", "hertz", "within"),
    [(232.29, 50.0, True), (232.31, 50.0, False), (227.71, 50.0, True), (227.69, 50.0, False),
     (230.0, 50.49, True), (230.0, 50.51, False)],
)  # fmt: skip
def test_a_supply_is_the_rules_own_within_their_tolerance(volts, hertz, within):
    """1 % on either side of 230 V and 50 Hz, as EU 2019/1782 has it."""
    assert Point("a", 2, volts, hertz, exact(1.0), ()).on_supply(230, 50, 0.01) is within


@pytest.mark.parametrize(
    ("volts", "name"),
    [(231.0, "230 V, 50 Hz"), (116.0, "115 V, 50 Hz"), (236.5, "240 V, 50 Hz"),
     (235.0, "235 V, 50 Hz"), (200.0, "200 V, 50 Hz"), (233.4, "230 V, 50 Hz")],
)  # fmt: skip
def test_usual_mains_have_names(volts, name):
    """Within 1.5 % of a usual voltage; 235 V lies 2.1 % from 230 and from 240 V."""
    assert mains_name(volts, 50.0) == name


def test_efficiency_and_what_each_meter_does_to_it():
    """20 V times 1 A from 25 W: 80 %; a relative error moves it by as much, that of the input down."""
    out = Output("C", "20 V", 0.0, Reading(20.0, 0.02, 0, 0.004), Reading(1.0, 0.003, 0, 0))
    found = Point("a", 2, 230.0, 50.0, Reading(25.0, 0.05, 0, 0.01), (out,)).efficiency()
    assert found.value == pytest.approx(0.8)
    assert found.shared[0] == pytest.approx([-0.8 * 0.05 / 25, 0.8 * 0.02 / 20, 0.8 * 0.003])
    assert found.independent == pytest.approx(0.8 * sqrt((0.01 / 25) ** 2 + (0.004 / 20) ** 2))


def test_efficiency_behind_the_cable_of_a_rule():
    """EU 2025/2052, Table 8: 0.130 ohm for USB-C up to 3 A. 20 V times 2 A less 2² times 0.13."""
    out = Output("C", "20 V", 0.0, Reading(20.0, 0.0, 0, 0.0), Reading(2.0, 0.01, 0, 0))
    found = Point("a", 2, 230.0, 50.0, exact(50.0), (out,)).efficiency({"C": ("USB-C", 3.0)})
    assert found.value == pytest.approx((40 - 0.52) / 50)
    # Derivative by the current: volts less twice current times resistance.
    assert found.shared[0, 2] == pytest.approx((20 - 2 * 2 * 0.13) / 50 * 0.01)


def test_loss_and_what_each_meter_does_to_it():
    out = Output("C", "20 V", 0.0, Reading(20.0, 0.02, 0, 0), Reading(1.5, 0.003, 0, 0))
    made = Point("a", 2, 230.0, 50.0, Reading(33.0, 0.05, 0, 0), (out,))
    assert made.loss().value == pytest.approx(3.0)
    assert made.loss().shared[0] == pytest.approx([0.05, -1.5 * 0.02, -20 * 0.003])
    # Along a curve that rises by 0.1 W for each watt an error of the output counts 1.1 times.
    assert made.loss(0.1).shared[0] == pytest.approx([0.05, -1.1 * 1.5 * 0.02, -1.1 * 20 * 0.003])
    assert made.loss(0.1).value == pytest.approx(3.0)


def test_scatter_widens_every_reading_of_a_point():
    out = Output("C", "20 V", 0.0, Reading(20.0, 0, 0, 0.1), Reading(1.0, 0, 0, 0.2))
    wide = Point("a", 2, 230.0, 50.0, Reading(25.0, 0, 0, 0.3), (out,)).scattered(2.0)
    assert wide.power.rounding == pytest.approx(0.6)
    assert wide.outputs[0].voltage.rounding == pytest.approx(0.2)
    assert wide.outputs[0].current.rounding == pytest.approx(0.4)


# ---- loads


def test_reference_currents_are_the_nameplates(tmp_path):
    adapter = specimen(tmp_path, plate=PLATE + SECOND).adapter
    alone, other = ("C", "5 V", 0.0), ("A", "5 V", 0.0)
    assert reference_currents(adapter, (alone,)) == {"C": 3.0}
    assert reference_currents(adapter, (("C", "?", 0.0),)) == {}
    assert reference_currents(adapter, (("C", "20 V", 0.0), other)) == {"C": 0.75, "A": 1.0}
    assert reference_currents(adapter, (alone, other)) == {}


def test_the_nearest_point_is_within_two_points_of_the_load():
    """EU 2019/1782, Annex II, 2(b): loads within 2 points of the nameplate's output."""
    points = [
        point("full", 25, amperes=1.02),
        point("less", 20, amperes=0.78),
        point("x", 9, amperes=0.3),
    ]
    rated = {"C": 1.0}
    assert load_fractions(points[0], {"C": 2.0}) == pytest.approx([0.51])
    assert nearest(points, rated, 1.0, 0.02).name == "full"
    assert nearest(points, rated, 1.0, 0.0199) is None
    assert nearest(points, rated, 0.75, 0.02) is None
    assert nearest(points, rated, 0.75, 0.031).name == "less"
    assert nearest(points, {}, 1.0, 0.5) is None
    assert nearest([], rated, 1.0, 0.5) is None


def test_every_port_must_be_near():
    two = (
        Output("C", "20 V", 0.0, exact(20.0), exact(1.0)),
        Output("A", "5 V", 0.0, exact(5.0), exact(0.9)),
    )
    made = Point("both", 2, 230.0, 50.0, exact(30.0), two)
    assert nearest([made], {"C": 1.0, "A": 1.0}, 1.0, 0.05) is None
    assert nearest([made], {"C": 1.0, "A": 0.9}, 1.0, 0.05) is made


def test_missing_loads_are_named():
    points = [point(str(share), 25, amperes=share) for share in (1.0, 0.75, 0.25)]
    found, missing = active_points(points, {"C": 1.0})
    assert [item.name for item in found] == ["0.25", "0.75", "1.0"]
    assert missing == [0.5]


SHARES = (1.0, 0.75, 0.5, 0.25, 0.1)


def test_a_loading_with_its_averages_and_its_curve(tmp_path):
    made = specimen(tmp_path, *(row(n, amperes=share) for n, share in enumerate(SHARES)))
    (found,) = sweep_of(made).loadings
    assert (found.mains, found.name) == ("230 V, 50 Hz", "20 V")
    assert [round(item.output_power) for item in found.points] == [20, 15, 10, 5, 2]
    eta = {share: 20 * share / (20 * share + loss(20 * share)) for share in SHARES}
    assert found.average.value == pytest.approx(np.mean([eta[s] for s in SHARES[:4]]), rel=1e-5)
    assert found.ten_percent.value == pytest.approx(eta[0.1], rel=1e-4)
    assert found.curve.loss(8.0) == pytest.approx(loss(8.0), rel=1e-3)
    assert found.assumed == ""
    assert found.fraction(found.points[1]) == pytest.approx(0.75)


def test_spread_takes_the_loads_from_a_share_up_to_all_of_it(tmp_path):
    """From 25 to 100 % with the 2 points of the rules; 10 % and 110 % stay out."""
    loads = (1.1, 1.0, 0.5, 0.23, 0.1)
    made = specimen(tmp_path, *(row(n, amperes=share) for n, share in enumerate(loads)))
    (found,) = sweep_of(made).loadings
    eta = {share: 20 * share / (20 * share + loss(20 * share)) for share in loads}
    names = [item.name for item in found.between(0.25)]
    assert sorted(names) == ["1", "2", "3"]
    assert names == sorted(names, key=lambda name: eta[loads[int(name)]])
    best, worst = max(eta[s] for s in loads[1:4]), min(eta[s] for s in loads[1:4])
    assert found.spread(0.25).value == pytest.approx(best - worst, rel=1e-4)
    assert found.spread(1.0) is None
    assert [item.name for item in found.between(1.0)] == ["1"]


def test_without_a_nameplate_no_load_is_known(tmp_path):
    made = specimen(tmp_path, row("a", mode="?"))
    (found,) = sweep_of(made).loadings
    assert np.isnan(found.fraction(found.points[0]))
    assert found.between(0.0) == []
    assert (found.average, found.ten_percent, found.curve) == (None, None, None)


def test_what_gives_more_than_it_takes_is_left_out_and_named(tmp_path):
    made = specimen(tmp_path, row("good"), row("odd", power=20.0), row("worse", power=19.0))
    sweep = sweep_of(made)
    assert [item.name for item in sweep.points] == ["good"]
    assert sweep.left_out == ("odd", "worse")


def test_a_curve_needs_four_points_at_three_loads():
    def law(load):
        return point("p", load + loss(load), amperes=load / 20)

    assert fitted([law(p) for p in (5, 10, 20)]) is None
    assert fitted([law(p) for p in (5, 5, 20, 20)]) is None
    curve = fitted([law(p) for p in (5, 5, 10, 20)])
    assert (curve.fixed, curve.proportional, curve.quadratic) == pytest.approx(LAW, rel=1e-6)


def test_scatter_is_what_is_seen_over_what_rounding_explains():
    """Eight readings whose residuals are known: +e and -e in a pattern that no parabola follows.

    Residuals orthogonal to 1, P and P² stay as they are; the fit leaves n - 3 degrees of freedom.
    """
    loads = np.arange(1.0, 9.0)
    waves = np.column_stack([np.ones(8), loads, loads**2])
    pattern = np.array([1, -1, -1, 1, 1, -1, -1, 1.0])
    pattern -= waves @ np.linalg.lstsq(waves, pattern, rcond=None)[0]

    def made(size):
        return [
            Point(
                "p", 2, 230.0, 50.0, Reading(load + loss(load) + size * shift, 0, 0, 0.01),
                (Output("C", "20 V", 0.0, exact(20.0), exact(load / 20)),),
            )
            for load, shift in zip(loads, pattern, strict=True)
        ]  # fmt: skip

    expected = sqrt((pattern**2).sum() / 5) * 0.05 / 0.01
    assert scatter_of([made(0.05)]) == pytest.approx(expected, rel=1e-6)
    # Two alike groups have twice the squares and twice the freedom; too few points count for none.
    assert scatter_of([made(0.05), made(0.05), made(0.05)[:3]]) == pytest.approx(expected, rel=1e-6)
    assert scatter_of([made(0.0)]) == 1.0
    assert scatter_of([]) == 1.0


def test_the_main_loading_reaches_the_most_power_on_the_higher_mains(tmp_path):
    shares = (1.0, 0.75, 0.5, 0.25)
    rows = [row(f"l{n}", amperes=s, mains="115,60") for n, s in enumerate(shares)]
    rows += [row(f"h{n}", amperes=s) for n, s in enumerate(shares)]
    rows += [row(f"s{n}", mode="5 V", volts=5.0, amperes=2 * s) for n, s in enumerate(shares)]
    rows += [row("big", mode="any", asked="11", volts=11.0, amperes=2.0)]
    found = sweep_of(specimen(tmp_path, *rows)).loadings
    assert len(found) == 4
    assert main_loading(found).mains == "230 V, 50 Hz"
    assert main_loading(found).name == "20 V"
    assert main_loading([item for item in found if item.curve is None]) is None


# ---- without load


def test_no_load_is_the_largest_with_nothing_plugged_in(tmp_path):
    idle = "230,50,0.030,none\n230,50,0.040,\n230,50,0.050,plugged\n230,50,0.035,none\n115,60,0.9,none\n"
    made = specimen(tmp_path, idle=idle)
    found = no_load_readings(made)
    assert [item.power.value for item in found] == [0.03, 0.04, 0.05, 0.035, 0.9]
    assert [item.line for item in found] == [2, 3, 4, 5, 6]
    assert [item.may_be_bare for item in found] == [True, True, False, True, True]
    assert at_rest(made, "230 V, 50 Hz").power.value == 0.035
    # Where no row says "none", those that do not say count; one that says "plugged" never does.
    assert largest(found[1:3]).power.value == 0.04
    assert largest(found[2:3]) is None
    assert at_rest(made, "100 V, 50 Hz") is None
    # 0.1 % of the reading and a digit of 1 mW.
    assert found[0].power.standard_uncertainty == pytest.approx(
        sqrt((0.001 * 0.03) ** 2 / 3 + 0.001**2 / 12)
    )
