"""Which temperature of a transformer counts, whose it is, and what its layers take."""

import numpy as np
import pytest

from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.model.windings import build_of, converter_of, series_turns, temperature_of
from adapterlab.dossier import read_dossier
from adapterlab.dossier.schema import Winding

PLATE = '[nameplate]\nname = "plain"\nrated_power = "20 W"\n'
NAMED = '[[construction.converters]]\nname = "{}"\nrated_power = "10 W"\n'
HEAD = "place,temperature_c,output_power_w\n"


def record(folder, text, temperatures=""):
    (folder / "adapter.toml").write_text(PLATE + text, encoding="utf-8")
    if temperatures:
        (folder / "temperatures.csv").write_text(HEAD + temperatures, encoding="utf-8")
    return specimen_of(read_dossier(folder))


@pytest.mark.parametrize(
    ("noted", "table", "celsius", "origin", "line"),
    [
        # As noted on the transformer, whatever the table says.
        ("95 C", "transformer,80,20\n", 95, "noted", ""),
        # Else the highest load, even where a lower one was warmer.
        ("", "transformer,80,10\ntransformer,70,20\ntransformer,60,5\n", 70, "measured", "3"),
        # Of equal loads the warmest; other places do not count.
        ("", "transformer core,70,20\ntransformer,75,20\ncase,90,20\n", 75, "measured", "3"),
        # A reading without its load counts as at none.
        ("", "transformer,99,\ntransformer,60,5\n", 60, "measured", "3"),
        ("", "transformer,99,\n", 99, "measured", "2"),
        ("", "case,60,20\n", 90, "assumed", ""),
        ("", "", 90, "assumed", ""),
    ],
)
def test_which_temperature_counts(tmp_path, noted, table, celsius, origin, line):
    text = '[[transformers]]\nconverter = "main"\n'
    text += f'temperature = "{noted}"\n' if noted else ""
    specimen = record(tmp_path, text, table)
    found = temperature_of(specimen, specimen.adapter.transformers[0])
    assert (found.middle, found.origin) == (pytest.approx(celsius), origin)
    assert found.name == "main.temperature"
    if line:
        assert found.source == f"temperatures.csv line {line}"


@pytest.mark.parametrize(
    ("converters", "named", "whose"),
    [
        (("main",), "main", "main"),
        (("main",), "", "main"),
        (("main",), "second", None),
        (("main", "second"), "second", "second"),
        (("main", "second"), "", None),
        ((), "", None),
    ],
)
def test_whose_transformer_it_is(tmp_path, converters, named, whose):
    text = "".join(NAMED.format(name) for name in converters)
    specimen = record(tmp_path, f'{text}[[transformers]]\nconverter = "{named}"\n')
    found = converter_of(specimen, specimen.adapter.transformers[0])
    assert (None if found is None else found.name) == whose
    assert build_of(specimen, specimen.adapter.transformers[0]).converter == (whose or named)


@pytest.mark.parametrize(
    ("roles", "turns"),
    [
        # Halves of a primary are in series; secondaries of equal turns share the current.
        ([("primary", 18), ("secondary", 8), ("primary", 18)], (36, 8)),
        ([("primary", 36), ("secondary", 8), ("secondary", 8)], (36, 8)),
        ([("primary", 36), ("secondary", 5), ("secondary", 3)], (36, 8)),
        ([("auxiliary", 5)], (0, 0)),
    ],
)
def test_turns_in_series(roles, turns):
    windings = [Winding(name=f"w{n}", role=role, turns=count) for n, (role, count) in
                enumerate(roles)]  # fmt: skip
    found = (series_turns(windings, "primary"), series_turns(windings, "secondary"))
    assert found == turns


WINDING = (
    '[[transformers.windings]]\nname = "{}"\nrole = "{}"\nturns = 10\nwire_diameter = "0.5 mm"\n'
    'insulation = "{}"\nouter_diameter = "{}"\n'
)
WINDOW = '[[transformers]]\nwinding_width = "10 mm"\nwinding_height = "4 mm"\n'


def test_a_stack_by_hand(tmp_path):
    """Wires of 0.6 mm and 0.8 mm as measured, two tapes of 0.1 mm between them and one outside."""
    inner = WINDING.format("inner", "primary", "enamelled", "0.6 mm")
    outer = WINDING.format("outer", "secondary", "triple insulated", "0.8 mm")
    text = WINDOW + inner + 'tape_layers_outside = 2\ntape_thickness = "0.1 mm"\n'
    text += outer + 'tape_layers_outside = 1\ntape_thickness = "0.1 mm"\n'
    specimen = record(tmp_path, text)
    build = build_of(specimen, specimen.adapter.transformers[0])
    assert build.height == pytest.approx(0.6e-3 + 0.2e-3 + 0.8e-3 + 0.1e-3)
    assert build.layers[1].bottom == pytest.approx(0.8e-3)
    assert [layer.width for layer in build.layers] == pytest.approx([6e-3, 8e-3])
    # A turn is as much longer as a circle about it: 2 pi for each metre further out.
    first, last = (build.turn_length(layer) for layer in build.layers)
    assert last - first == pytest.approx(2 * np.pi * (1.2e-3 - 0.3e-3))
    assert build.uncounted == build.untaped == ()


@pytest.mark.parametrize(
    ("inner", "outer", "uncounted", "untaped"),
    [
        (None, None, ("inner",), ("inner", "outer")),
        (None, 0, ("inner",), ("inner",)),
        (0, None, (), ("outer",)),
        (0, 0, (), ()),
    ],
)
def test_tape_that_nobody_counted_is_not_none(tmp_path, inner, outer, uncounted, untaped):
    text = WINDOW
    for name, role, tape in (("inner", "primary", inner), ("outer", "secondary", outer)):
        text += WINDING.format(name, role, "enamelled", "0.6 mm")
        text += "" if tape is None else f"tape_layers_outside = {tape}\n"
    specimen = record(tmp_path, text)
    build = build_of(specimen, specimen.adapter.transformers[0])
    assert (build.uncounted, build.untaped) == (uncounted, untaped)
