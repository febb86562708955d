"""Named inputs: drawn alike wherever they are used, their shares and corners against closed forms."""

import time
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from adapterlab.assess.model.inputs import (
    Input,
    allowance,
    between,
    drawn,
    marked,
    measured,
    predict,
    shares_of,
)
from adapterlab.assess.report import Prediction, Value, against_prediction

REST = {"section": "inrush", "question": "How large?", "function": "inrush.rc_inrush_current"}


def noted(name, distribution, **rest):
    return Input(name, distribution, "", "noted", name, **rest)


def shares(prediction):
    return {share.name: share.share for share in prediction.rests_on}


# ---- shares


def test_shares_of_a_sum_are_those_of_the_variances():
    """Closed form: var(a x + b y) = a² var x + b² var y. Uniform on [0, 1] has a variance of 1/12."""
    given_ = {"x": noted("x", between(0, 1)), "y": noted("y", stats.norm(0, 1))}
    (found,) = predict(lambda x, y: 6 * x + 2 * y, given_, "")
    assert found.value.standard_uncertainty == pytest.approx(np.sqrt(3 + 4), rel=0.01)
    assert_allclose([shares(found)["x"], shares(found)["y"]], [3 / 7, 4 / 7], atol=0.02)
    assert [share.name for share in found.rests_on] == ["y", "x"]
    assert found.remainder < 0.02


def test_shares_of_the_ishigami_function():
    """sin x + 7 sin² y + 0.1 z⁴ sin x on (-π, π)³ has closed first-order shares.

    Ishigami and Homma 1990; figures 0.3139, 0.4424 and 0 as in Saltelli et al., Sensitivity
    Analysis (2000), table of test functions; recomputed here from the moments.
    """
    a, b = 7.0, 0.1
    first = 0.5 * (1 + b * np.pi**4 / 5) ** 2
    second = a**2 / 8
    both = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    total = first + second + both
    assert_allclose([first / total, second / total], [0.3139, 0.4424], atol=5e-5)
    wide = between(-np.pi, np.pi)
    (found,) = predict(
        lambda x, y, z: np.sin(x) + a * np.sin(y) ** 2 + b * z**4 * np.sin(x),
        {name: noted(name, wide) for name in "xyz"},
        "",
    )
    assert found.value.standard_uncertainty**2 == pytest.approx(total, rel=0.05)
    assert shares(found)["x"] == pytest.approx(first / total, abs=0.04)
    assert shares(found)["y"] == pytest.approx(second / total, abs=0.04)
    assert shares(found)["z"] < 0.04
    assert found.remainder == pytest.approx(both / total, abs=0.06)


def test_a_product_of_centred_factors_is_all_remainder():
    """E[xy | x] = x E[y] = 0: no factor carries anything alone."""
    (found,) = predict(
        lambda x, y: x * y, {name: noted(name, stats.norm(0, 1)) for name in "xy"}, ""
    )
    assert sum(shares(found).values()) < 0.05
    assert found.remainder > 0.95


def test_an_input_without_effect_has_no_share():
    given_ = {"x": noted("x", between(0, 1)), "idle": noted("idle", between(0, 1))}
    (found,) = predict(lambda x, idle: x, given_, "")  # noqa: ARG005
    assert shares(found)["idle"] < 0.02
    assert shares(found)["x"] > 0.98


def test_what_is_exact_has_no_share():
    (found,) = predict(
        lambda x, y: x + y, {"x": noted("x", between(0, 1)), "y": noted("y", 3.0)}, ""
    )
    assert list(shares(found)) == ["x"]
    assert found.value.value == pytest.approx(3.5, abs=1e-3)


def test_a_constant_rests_on_nothing():
    (found,) = predict(lambda x: 0 * x + 5, {"x": noted("x", between(0, 1))}, "")
    assert (found.value.standard_uncertainty, found.remainder) == (0.0, 0.0)
    assert found.interval == found.reach == (5.0, 5.0)


def test_shares_belong_to_the_draws_of_their_inputs():
    """A result worked out outside `predict` from the same draws has the same shares."""
    given_ = {"x": noted("x", between(0, 1)), "y": noted("y", between(0, 3))}
    draws = drawn(given_)
    direct = shares_of(draws["x"] + draws["y"], given_)
    (found,) = predict(lambda x, y: x + y, given_, "")
    assert direct == found.rests_on


# ---- corners of marked tolerances


def capacitor(name, value=47e-6, **rest):
    return marked(name, value, 0.2, "F", name, **rest)


def test_the_corner_of_two_bulk_capacitors():
    """Two of 47 µF ± 20 % in parallel: 75.2 µF to 112.8 µF, by hand; both at -20 % are no fault."""
    (total,) = predict(
        lambda one, two: one + two,
        {"one": capacitor("C1.value"), "two": capacitor("C2.value")},
        "F",
    )
    assert_allclose(total.reach, (75.2e-6, 112.8e-6), rtol=1e-9)
    assert total.interval[0] > 76e-6
    assert total.rest_uncertainty == pytest.approx(0.0, abs=1e-18)
    words = {}
    for value in (75.2e-6, 74.2e-6, 73.2e-6, 94e-6):
        finding = against_prediction(
            Value(value, 0.5e-6, "F"), total, "Bulk capacitance", "C1 with C2", **REST
        )
        words[value] = finding.word, "ends of their tolerances" in finding.sentence
    # 1.96 times 0.5 µF is 0.98 µF: 74.2 µF just misses 75.2 µF by more than that, 74.3 does not.
    assert words == {
        94e-6: ("explained", False),
        75.2e-6: ("explained", True),
        74.2e-6: ("unexplained", False),
        73.2e-6: ("unexplained", False),
    }


def test_parts_at_their_ends_with_the_rest_by_its_distribution():
    """(C ± 20 %) + N(0, 1): ends at 80 - 1.96 and 120 + 1.96, and the rest is 1."""
    (found,) = predict(
        lambda part, rest: part + rest,
        {"part": marked("C1.value", 100.0, 0.2, "", "C1"), "rest": noted("rest", stats.norm(0, 1))},
        "",
    )
    assert_allclose(found.reach, (80 - 1.96, 120 + 1.96), atol=0.05)
    assert found.rest_uncertainty == pytest.approx(1.0, rel=0.02)


MONOTONE = [
    # function of three marked inputs of 1 ± 50 %, by hand its least and its largest
    (lambda a, b, c: a + b + c, 1.5, 4.5),
    (lambda a, b, c: a - b + c, -0.5, 2.5),
    (lambda a, b, c: a * b / c, 0.25 / 1.5, 2.25 / 0.5),
    (lambda a, b, c: 1 / (a * b * c), 1 / 1.5**3, 1 / 0.5**3),
]


@pytest.mark.parametrize(("function", "least", "most"), MONOTONE)
@pytest.mark.parametrize("idle", [0, 3])
def test_the_reach_of_monotone_functions(function, least, most, idle):
    """Up to three marked inputs every corner is tried; with more, where each one's effect points."""
    given_ = {name: marked(name, 1.0, 0.5, "", name) for name in "abc"}
    given_ |= {f"d{k}": marked(f"d{k}", 1.0, 0.1, "", "d") for k in range(idle)}

    def with_more(a, b, c, **more):
        return function(a, b, c) + sum(more.values(), 0.0)

    (found,) = predict(with_more, given_, "")
    assert_allclose(found.reach, (least + 0.9 * idle, most + 1.1 * idle), rtol=1e-9)


def test_every_result_has_its_own_corners():
    """One rises where the other falls; beyond three marked inputs each finds its own."""
    given_ = {name: marked(name, 1.0, 0.5, "", name) for name in "abcd"}
    up, down = predict(
        lambda **parts: (sum(parts.values()), 1 / sum(parts.values())), given_, ("V", "A")
    )
    assert_allclose(up.reach, (2.0, 6.0), rtol=1e-9)
    assert_allclose(down.reach, (1 / 6, 1 / 2), rtol=1e-9)
    assert (up.value.unit, down.value.unit) == ("V", "A")


def test_parts_of_one_reel_go_to_the_same_end():
    """The difference of two equal parts of one reel is nothing, at every corner."""
    one = capacitor("C1.value", column="reel")
    two = capacitor("C2.value", column="reel")
    (apart,) = predict(lambda a, b: a - b, {"a": one, "b": two}, "F")
    assert apart.reach == (0.0, 0.0)
    (apart,) = predict(
        lambda a, b: a - b, {"a": capacitor("C1.value"), "b": capacitor("C2.value")}, "F"
    )
    assert_allclose(apart.reach, (-18.8e-6, 18.8e-6), rtol=1e-9)


def test_without_marked_parts_the_reach_is_the_interval():
    (found,) = predict(lambda x: x, {"x": noted("x", stats.norm(0, 1))}, "")
    assert found.reach == found.interval
    assert found.rest_uncertainty == pytest.approx(found.value.standard_uncertainty)


def test_corners_are_worked_out_only_when_asked_for():
    calls = []

    def function(x):
        calls.append(np.size(x))
        return x

    found = predict(function, {"x": capacitor("C1.value")}, "F")
    assert len(calls) == 1
    assert_allclose(found[0].reach, (37.6e-6, 56.4e-6))
    assert found[0].rest_uncertainty < 1e-18
    assert len(calls) == 2


# ---- draws


def test_one_name_one_column():
    """The same part in two sections, whatever else each of them draws."""
    part = capacitor("C1.value")
    first = drawn({"c": part, "x": noted("x", between(0, 1))})["c"]
    second = drawn({"other": noted("y", between(0, 1)), "bulk": part})["bulk"]
    assert_allclose(first, second, rtol=0)
    assert_allclose(drawn({"c": part})["c"], first, rtol=0)


def test_sums_and_differences_hold_together_across_sections():
    """Energy and charge of one capacitor, predicted apart: their ratio has no doubt left."""
    part = {"c": capacitor("C1.value")}
    (charge,) = predict(lambda c: 325 * c, part, "")
    (energy,) = predict(lambda c: c * 325**2 / 2, part, "J")
    ratio = energy.over(charge)
    assert ratio.value.value == pytest.approx(162.5, rel=1e-12)
    assert ratio.value.standard_uncertainty == pytest.approx(0.0, abs=1e-9)
    assert_allclose(energy.samples / 162.5, charge.samples, rtol=1e-12)


def test_two_adapters_share_the_bench_and_nothing_else():
    """Resistances of part and supply, uniform and alike: half of the variance is the bench's."""
    given_ = {
        "part": noted("part", between(0, 1)),
        "bench": noted("bench", between(0, 1), bench=True),
    }
    (one,) = predict(lambda part, bench: part + bench, given_, "Ω")
    other = one.of_another("ash-9")
    assert np.corrcoef(one.samples, other.samples)[0, 1] == pytest.approx(0.5, abs=0.04)
    assert other.value.standard_uncertainty == pytest.approx(
        one.value.standard_uncertainty, rel=0.04
    )
    assert_allclose(one.of_another("ash-9").samples, other.samples)
    bare = Prediction.of(np.linspace(0, 1, 99), "Ω")
    assert bare.of_another("ash-9") is bare


def test_other_names_are_independent():
    names = [f"C{k}.value" for k in range(12)]
    columns = np.array(list(drawn({name: noted(name, between(0, 1)) for name in names}).values()))
    off = np.corrcoef(columns)[~np.eye(12, dtype=bool)]
    # A correlation of 2048 independent pairs scatters by 1/sqrt(2048) = 0.022.
    assert np.abs(off).max() < 0.1


@pytest.mark.parametrize("draws", [2048, 512, 1024, 300])
def test_columns_fill_the_range_evenly(draws):
    """One draw in each of as many strata (McKay et al. 1979), and in the first 512 as well."""
    column = drawn({"x": noted("x", between(0, 1))}, draws)["x"]
    assert sorted(np.floor(column * draws).astype(int)) == list(range(draws))
    if draws % 512 == 0:
        assert sorted(np.floor(column[:512] * 512).astype(int)) == list(range(512))


def test_draws_are_stable():
    """CRC-32 of the name seeds numpy's generator, so that two reviews agree to the last digit."""
    column = drawn({"x": noted("bridge.drop", between(0, 1))}, 300)["x"]
    order = np.random.default_rng(zlib.crc32(b"bridge.drop")).permuted(
        np.arange(300)[None, :], axis=1
    )
    assert (np.floor(column * 300).astype(int) == order[0]).all()


# ---- inputs


def test_marked_and_measured_inputs():
    part = marked("R1.value", 10.0, 0.05, "Ω", "R1")
    assert_allclose(part.ends, (9.5, 10.5))
    assert (part.origin, part.middle) == ("marked", pytest.approx(10.0))
    read = measured("mains.voltage", Value(230.0, 0.5, "V"), "230 V read")
    assert (read.origin, read.middle) == ("measured", 230.0)
    assert read.at(np.array(0.975)) == pytest.approx(230.98, abs=1e-3)
    exact = measured("mains.voltage", Value(230.0, 0.0, "V"), "230 V read")
    assert not exact.is_uncertain
    assert exact.ends == (230.0, 230.0)
    assert exact.at(np.array([0.1, 0.9])) == 230.0


def test_allowances_come_from_the_table():
    """bridge.drop is 1.2 V to 2 V in the table; inductances by orders of magnitude, middle 20 µH."""
    drop = allowance("bridge.drop")
    assert (drop.origin, drop.ends, drop.unit) == ("assumed", (1.2, 2.0), "V")
    assert drop.said == "1.2 to 2 V assumed for the bridge's two conducting diodes"
    assert not drop.bench
    coil = allowance("supply.inductance")
    assert coil.at(np.array(0.5)) == pytest.approx(20e-6)
    assert coil.bench
    assert allowance("bridge.drop", "BR1.drop").name == "BR1.drop"
    with pytest.raises(ValueError, match=r"name.*'bridge\.dorp'"):
        allowance("bridge.dorp")


@given(st.floats(-1e6, 1e6), st.floats(0, 1e6))
def test_between_two_ends(low, width):
    found = between(low, low + width)
    if low + width > low:
        assert_allclose(found.support(), (low, low + width), atol=1e-6)
    else:
        assert found == low


# ---- bad input


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: Input("x", 1.0, "", "guessed", "x"), "origin must be one of"),
        (
            lambda: predict(lambda x: np.log(x), {"x": noted("x", between(-1, 1))}, ""),
            "not finite for some of the parts drawn",
        ),
        (
            lambda: predict(lambda x: (x, x), {"x": noted("x", between(0, 1))}, ("V",)),
            "units must name 2 results",
        ),
        (
            lambda: predict(lambda x: x[:7], {"x": noted("x", between(0, 1))}, "V"),
            "could not be broadcast",
        ),
        (
            lambda: predict(lambda x: x, {"x": noted("x", between(0, 1))}, "V", 1),
            "draws must be at least 2",
        ),
    ],
)
def test_rejections(call, match):
    with np.errstate(invalid="ignore", divide="ignore"), pytest.raises(ValueError, match=match):
        call()


def test_a_failing_function_says_its_own_error():
    def function(x):
        raise ValueError("turns_ratio must be > 0, got -1")

    with pytest.raises(ValueError, match="turns_ratio must be"):
        predict(function, {"x": noted("x", between(0, 1))}, "V")


def test_speed():
    """Twelve inputs, four of them marked, a cheap function: a few milliseconds, corners included."""
    given_ = {f"c{k}": marked(f"C{k}.value", 1.0, 0.2, "F", "C") for k in range(4)}
    given_ |= {f"x{k}": noted(f"x{k}", stats.norm(1, 0.1)) for k in range(8)}
    predict(lambda **parts: sum(parts.values()), given_, "F")
    times = []
    for _ in range(5):
        start = time.process_time()
        (found,) = predict(lambda **parts: sum(parts.values()), given_, "F")
        assert found.reach[1] > found.interval[1]
        assert len(found.rests_on) == 12
        times.append(time.process_time() - start)
    assert min(times) < 0.03
