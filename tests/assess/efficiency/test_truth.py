"""Efficiency of the demo adapters against their recorded truth."""

import json

import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import efficiency as section
from adapterlab.dossier import read_dossier


@pytest.mark.parametrize(
    ("name", "key", "loading"),
    [
        ("birch-60", "C1 20 V", "C1 20 V"),
        ("birch-60", "C1 5 V", "C1 5 V"),
        ("birch-60", "high", "C1 20 V + C2 9 V"),
    ],
)
def test_demo_loss_curve_recovers_the_truth(name, key, loading):
    """The generator's three terms, as losses over the load range, within two uncertainties."""
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    terms = truth["losses_230_v"][key]
    result = section.assess(read_dossier(DEMO / name))
    found = next(
        item for item in result.loadings if item.name == loading and item.mains.startswith("230")
    )
    power = np.array([point.output_power for point in found.points])
    expected = terms["fixed"] + terms["proportional"] * power + terms["quadratic"] * power**2
    basis = np.stack([np.ones_like(power), power, power**2], axis=1)
    spread = np.sqrt(np.einsum("ij,jk,ik->i", basis, found.curve.covariance, basis))
    assert (np.abs(found.curve.loss(power) - expected) < 2 * spread + 0.01).all()


@pytest.mark.parametrize(
    ("name", "rule", "quantity", "words"),
    [
        ("dogwood-18", "EU 2019/1782", "average", {"falls short", "too close to call"}),
        ("dogwood-18", "EU 2019/1782", "no load", {"falls short"}),
        ("birch-60", "EU 2019/1782", "average", {"meets"}),
        ("cedar-65", "EU 2019/1782", "average", {"meets"}),
        ("cedar-65", "EU 2019/1782", "no load", {"meets"}),
    ],
)
def test_demo_story(name, rule, quantity, words):
    judged = section.assess(read_dossier(DEMO / name)).judged
    found = judged[(judged["rule"] == rule) & (judged["quantity"] == quantity)]
    assert set(found["word"]) == words


def test_a_rule_is_judged_only_at_its_own_supply():
    """dogwood-18 was never measured on 115 V 60 Hz: the US level stays not measured."""
    result = section.assess(read_dossier(DEMO / "dogwood-18"))
    us = [f for f in result.findings if "US level VI" in f.sentence]
    assert us
    assert {finding.word for finding in us} == {"not measured"}
    assert all("115 V, 60 Hz" in finding.sentence for finding in us)


def test_no_load_truth():
    truth = json.loads((DEMO / "truth" / "birch-60.json").read_text(encoding="utf-8"))["no_load"]
    table = section.assess(read_dossier(DEMO / "birch-60")).no_load
    (row,) = (item for item in table if item.mains.startswith("230") and item.cable == "none")
    expected = truth["230 V, cable none"]
    assert abs(row.power.value - expected) < 2 * row.power.standard_uncertainty
