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


WOUND = '[[transformers.windings]]\nname = "w"\nrole = "primary"\nturns = 40\n'


def laid(folder, text, window=WINDOW):
    text += "" if "\nlayers" in text else "layers = 1\n"
    specimen = record(folder, window + WOUND + text)
    return build_of(specimen, specimen.adapter.transformers[0])


def test_enamelled_wire_lies_between_its_two_grades(tmp_path):
    """IEC 60317-0-1 (from memory): 0.25 mm is at most 0.281 mm in grade 1, 0.297 mm in grade 2."""
    build = laid(tmp_path, 'wire_diameter = "0.25 mm"\ninsulation = "enamelled"\nlayers = 2\n')
    first, second = build.layers
    assert first.height == pytest.approx(0.289e-3)
    assert first.spread == pytest.approx(0.008e-3)
    assert first.turns == second.turns == 20
    assert first.width == pytest.approx(20 * 0.289e-3)
    assert first.copper_height == pytest.approx(0.25e-3)
    assert first.copper_bottom == pytest.approx(0.0195e-3)
    assert second.bottom == pytest.approx(0.289e-3)
    assert first.copper_area == pytest.approx(np.pi / 4 * 0.25e-3**2)
    assert (first.sublayers, first.foil, first.triple_insulated) == (1, False, False)


def test_tape_follows_the_last_layer_of_a_winding_only(tmp_path):
    build = laid(
        tmp_path,
        'wire_diameter = "0.25 mm"\nlayers = 3\ntape_layers_outside = 2\ntape_thickness = "0.1 mm"\n',
    )
    assert [layer.tape_layers for layer in build.layers] == [0, 0, 2]
    assert build.height == pytest.approx(3 * 0.289e-3 + 0.2e-3)
    assert build.assumed[-1] == "ordinary enamel where the insulation of a wire is unknown"


def test_strands_lie_side_by_side_up_to_three_and_are_a_bundle_from_four_on(tmp_path):
    for strands, abreast, sublayers in ((3, 3, 1), (4, 1, 2), (9, 1, 3), (14, 1, 4)):
        folder = tmp_path / str(strands)
        folder.mkdir()
        build = laid(
            folder, f'wire_diameter = "0.1 mm"\ninsulation = "enamelled"\nstrands = {strands}\n'
        )
        (layer,) = build.layers
        assert layer.width == pytest.approx(40 * abreast * layer.height)
        assert layer.sublayers == sublayers
        assert layer.copper_area == pytest.approx(strands * np.pi / 4 * 0.1e-3**2)
        if abreast == 3:
            assert layer.height < 0.14e-3
        else:
            # Circles in a circle cover at most all of it, so it is at least as wide as this.
            assert layer.height > np.sqrt(strands) * 0.1e-3
            assert layer.copper_height < layer.height


def test_a_foil_is_as_high_as_it_is_thick(tmp_path):
    foil = 'wire_diameter = "0.05 mm"\ninsulation = "foil"\n'
    for number, (more, width) in enumerate((('foil_width = "7 mm"\n', 7e-3), ("", 10e-3))):
        folder = tmp_path / str(number)
        folder.mkdir()
        (layer,) = laid(folder, foil + more).layers
        assert (layer.height, layer.width, layer.spread) == pytest.approx((0.05e-3, width, 0.0))
        assert layer.copper_area == pytest.approx(0.05e-3 * width)
        assert layer.foil


def test_three_layers_of_insulation_are_thicker_than_enamel(tmp_path):
    """Three extruded layers add 0.17 to 0.23 mm (common practice)."""
    (layer,) = laid(tmp_path, 'wire_diameter = "0.5 mm"\ninsulation = "triple insulated"\n').layers
    assert layer.height == pytest.approx(0.7e-3)
    assert layer.spread == pytest.approx(0.03e-3)
    assert layer.triple_insulated


def test_three_layers_of_insulation_about_a_bundle(tmp_path):
    """About seven enamelled strands, which a circle of three strands holds."""
    text = 'wire_diameter = "0.1 mm"\ninsulation = "triple insulated"\nstrands = 7\n'
    (layer,) = laid(tmp_path, text).layers
    assert 3 * 0.1e-3 + 0.17e-3 < layer.height < 3 * 0.14e-3 + 0.23e-3


@pytest.mark.parametrize(
    ("window", "text", "trouble"),
    [
        (WINDOW, "", "the wire_diameter (copper diameter) of the w is not listed"),
        (
            WINDOW,
            'insulation = "foil"\n',
            "the wire_diameter (foil thickness) of the w is not listed",
        ),
        ("[[transformers]]\n", 'wire_diameter = "0.5 mm"\n', "the winding_width is not listed"),
        (WINDOW, 'wire_diameter = "5 mm"\n', "wire_diameter must lie"),
    ],
)
def test_why_windings_cannot_be_laid_out(tmp_path, window, text, trouble):
    build = laid(tmp_path, text, window)
    assert build.layers == ()
    assert build.trouble.startswith(trouble)


def test_without_windings_there_is_nothing_to_lay_out(tmp_path):
    specimen = record(tmp_path, WINDOW)
    assert build_of(specimen, specimen.adapter.transformers[0]).trouble == "no winding is listed"


def test_what_the_record_does_not_say_comes_from_the_table_of_cores(tmp_path):
    """Erickson, appendix B: EE22 has 0.41 cm², 3.96 cm, a window of 0.196 cm², a turn of 3.99 cm."""
    build = laid(
        tmp_path, 'wire_diameter = "0.25 mm"\ninsulation = "enamelled"\n',
        '[[transformers]]\ncore = "EE22 size, ferrite"\nwinding_width = "8 mm"\n',
    )  # fmt: skip
    assert build.core_area == pytest.approx(41e-6)
    assert build.path_length == pytest.approx(39.6e-3)
    assert build.mean_turn_length == pytest.approx(39.9e-3)
    assert build.window_height == pytest.approx(0.196e-4 / 8e-3, abs=6e-5)
    assert [text.split(" (")[1] for text in build.assumed] == ["EE22)"] * 4


def test_what_is_noted_stands(tmp_path):
    build = laid(
        tmp_path, 'wire_diameter = "0.25 mm"\ninsulation = "enamelled"\n',
        '[[transformers]]\ncore = "EE22"\nwinding_width = "8 mm"\nwinding_height = "2 mm"\n'
        'core_area = "40 mm2"\npath_length = "39 mm"\nmean_turn_length = "41 mm"\ngap = "0.3 mm"\n',
    )  # fmt: skip
    found = (
        build.core_area,
        build.path_length,
        build.mean_turn_length,
        build.window_height,
        build.gap,
    )
    assert found == pytest.approx((40e-6, 39e-3, 41e-3, 2e-3, 0.3e-3))
    assert build.assumed == ()
    assert (build.primary_turns, build.secondary_turns) == (40, 0)
