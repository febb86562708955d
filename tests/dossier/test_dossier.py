"""Reading dossiers: real bench files, and everything that can be wrong with them."""

import re
import shutil

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.dossier import DossierError, inspect_dossier, read_dossier
from adapterlab.dossier.locate import line_of
from adapterlab.dossier.quantity import parse_quantity
from adapterlab.dossier.records import read_record
from adapterlab.dossier.schema import Adapter, Capture, Channel, Table
from adapterlab.dossier.summary import understood
from adapterlab.dossier.table_reading import read_table
from adapterlab.dossier.tables import TABLES, headings

PLATE = '[nameplate]\nname = "thing"\nrated_power = "18 W"\n'
PORT = '[[ports]]\nname = "C1"\n[[ports.modes]]\nname = "5 V"\nvoltage = "5 V"\ncurrent = "3 A"\n'
SWEEP = (
    "point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,"
    "output_voltage_v,output_current_a\n"
)


def make(folder, adapter=PLATE, **tables):
    folder.mkdir(exist_ok=True)
    (folder / "adapter.toml").write_text(adapter, encoding="utf-8")
    for name, text in tables.items():
        data = text if isinstance(text, bytes) else text.encode()
        (folder / f"{name}.csv").write_bytes(data)
    return folder


def errors(folder):
    return [p for p in inspect_dossier(folder)[1] if p.severity == "error"]


@pytest.mark.parametrize("name", ["alder-27", "birch-60", "cedar-65", "dogwood-18"])
def test_demo_has_neither_errors_nor_warnings(name):
    dossier, problems = inspect_dossier(DEMO / name)
    assert dossier is not None
    assert {p.severity for p in problems} <= {"gap", "note"}


def test_nameplate_only(tmp_path):
    dossier = read_dossier(make(tmp_path / "d"))
    assert dossier.name == "thing"
    assert dossier.load_sweep.empty
    assert {p.file for p in dossier.problems if p.severity == "gap"} == {
        f"{name}.csv" for name in TABLES
    }


def test_nothing_is_written_into_a_dossier(tmp_path):
    folder = shutil.copytree(DEMO / "dogwood-18", tmp_path / "d")
    before = {p: (p.stat().st_mtime_ns, p.stat().st_size) for p in folder.rglob("*")}
    read_dossier(folder)
    assert before == {p: (p.stat().st_mtime_ns, p.stat().st_size) for p in folder.rglob("*")}


@pytest.mark.parametrize(
    "spelling",
    [
        pytest.param(lambda t: t.encode("utf-8"), id="plain"),
        pytest.param(lambda t: t.encode("utf-8-sig"), id="byte-order mark"),
        pytest.param(lambda t: t.replace("\n", "\r\n").encode(), id="Windows line ends"),
        pytest.param(lambda t: t.encode("utf-16"), id="utf-16"),
        pytest.param(lambda t: t.replace(",", ";").replace(".", ",").encode(), id="decimal comma"),
        pytest.param(lambda t: t.replace(",", "\t").encode(), id="tabs"),
        pytest.param(
            lambda t: ("# bench 3\n\n" + t.replace("\n", "\n\n")).encode(), id="blank lines"
        ),
        pytest.param(lambda t: ("Instrument,model\nRange,auto\n" + t).encode(), id="preamble"),
    ],
)
def test_one_table_many_dialects(tmp_path, spelling):
    text = SWEEP + "1,230.2,50.0,6.50,C1,5 V,5.02,1.001\n2,230.1,50.0,12.9,C1,5 V,5.00,2.002\n"
    frame, problems = read_table(
        make(tmp_path / "d", load_sweep=spelling(text)) / "load_sweep.csv",
        TABLES["load_sweep"],
    )
    assert problems == []
    assert frame["input_power"].tolist() == [6.50, 12.9]
    assert frame["output_current"].tolist() == [1.001, 2.002]
    assert frame["mode"].tolist() == ["5 V", "5 V"]


def test_columns_in_any_order_and_any_prefix(tmp_path):
    text = (
        "power_mw,remark,mains_frequency_hz,mains_voltage_v,averaging_time_min\n45,first,50,230,5\n"
    )
    frame, problems = read_table(
        make(tmp_path / "d", no_load=text) / "no_load.csv", TABLES["no_load"]
    )
    assert frame["power"].tolist() == [0.045]
    assert frame["averaging_time"].tolist() == [300.0]
    assert [(p.severity, p.column) for p in problems] == [("note", "remark")]


def test_all_errors_at_once_with_their_places(tmp_path):
    sweep = SWEEP + "1,230,50,6.5,C1,5 V,abc,1\n2,230,50,,C1,5 V,5,1\n3,9999,50,6,C1,5 V,5,1\n"
    touch = (
        "mains_voltage_v,mains_frequency_hz,network,quantity,touch_current_ua\n230,50,ear,rms,80\n"
    )
    adapter = PLATE.replace('"18 W"', '"18 V"') + '[[parts]]\nreference = "F1"\nkind = "teapot"\n'
    found = errors(make(tmp_path / "d", adapter, load_sweep=sweep, touch_current=touch))
    places = {(p.file, p.line, p.column, p.value) for p in found}
    assert places == {
        ("adapter.toml", 3, "nameplate.rated_power", "18 V"),
        ("adapter.toml", 6, "parts.1.kind", "teapot"),
        ("load_sweep.csv", 2, "output_voltage_v", "abc"),
        ("load_sweep.csv", 3, "input_power_w", ""),
        ("load_sweep.csv", 4, "mains_voltage_v", "9999"),
        ("touch_current.csv", 2, "network", "ear"),
    }
    allowed = {p.column: p.message for p in found}
    assert "weighted, unweighted, ammeter" in allowed["network"]
    assert "1 to 500" in allowed["mains_voltage_v"]
    assert "capacitor" in allowed["parts.1.kind"]
    with pytest.raises(DossierError, match="6 errors"):
        read_dossier(tmp_path / "d")


@pytest.mark.parametrize(
    ("adapter", "message"),
    [
        ("", "nameplate"),
        ("[nameplate\nname = 1", "not well-formed TOML"),
        ('[nameplate]\nname = ""\nrated_power = "5 W"\n', "must not be empty"),
        ('[nameplate]\nname = 3\nrated_power = "5 W"\n', "must be a text"),
        ('[nameplate]\nname = "x"\nrated_power = "-5 W"\n', "must be above 0"),
        ('[nameplate]\nname = "x"\nrated_power = 5\n', "number with its unit"),
        ('[nameplate]\nname = "x"\nrated_power = "5"\n', "has no unit"),
        (PLATE + PORT.replace('voltage = "5 V"\n', ""), "fixed mode needs voltage"),
        (
            PLATE + '[[parts]]\nreference = "C1"\nkind = "capacitor"\nvalue = "3 ohm"\n',
            "unit 'ohm'",
        ),
        (
            PLATE + '[[instruments]]\nname = "m"\nmeasures = "ripple"\n'
            'fraction_of_full_scale = "1 %"\n',
            "needs full_scale",
        ),
    ],
)
def test_wrong_adapter_file(tmp_path, adapter, message):
    assert any(message in str(p) for p in errors(make(tmp_path / "d", adapter)))


def test_unknown_keys_are_remarked_on_with_a_hint(tmp_path):
    dossier, problems = inspect_dossier(make(tmp_path / "d", PLATE + 'rated_pwer = "3 W"\n'))
    assert dossier is not None
    warning = next(p for p in problems if p.severity == "warning")
    assert (warning.line, warning.column) == (4, "nameplate.rated_pwer")
    assert "did you mean rated_power?" in warning.message


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("1,230,50,5.0,C1,5 V,5,1.1", "efficiency over 1"),
        ("1,230,50,40,C1,5 V,5,3.9", "far above the rated 3 A"),
        ("1,230,50,40,C1,7 V,5,1", "no mode '7 V'"),
        ("1,230,50,60,C1,5 V,9,3", "far above 5 V"),
    ],
)
def test_implausible_readings_are_warnings(tmp_path, row, message):
    dossier, problems = inspect_dossier(
        make(tmp_path / "d", PLATE + PORT, load_sweep=SWEEP + row + "\n")
    )
    assert dossier is not None
    assert any(message in p.message for p in problems if p.severity == "warning")


METER = (
    '[[instruments]]\nname = "small"\nmeasures = "output current"\nfull_scale = 2\n'
    '[[instruments]]\nname = "large"\nmeasures = "output current"\nfull_scale = {range}\n'
)


@pytest.mark.parametrize(("widest", "warned"), [(2.5, True), (2.95, False), (3.0, False)])
def test_a_reading_beyond_every_range_of_its_meter_names_both_places(tmp_path, widest, warned):
    """3 A can't be read on 2.5 A; a reading 2 % above the end of the range is let pass."""
    folder = make(
        tmp_path / "d",
        PLATE + PORT + METER.format(range=widest),
        load_sweep=SWEEP + "1,230,50,18,C1,5 V,5,3.0\n",
    )
    said = [p for p in inspect_dossier(folder)[1] if "can show" in p.message]
    assert bool(said) == warned
    if warned:
        assert (said[0].file, said[0].line, said[0].column) == (
            "load_sweep.csv",
            2,
            "output_current",
        )
        assert "'large'" in said[0].message
        assert "adapter.toml" in said[0].message


def test_power_above_volt_amperes_is_a_warning(tmp_path):
    header = SWEEP.replace("input_power_w", "mains_current_a,input_power_w")
    folder = make(tmp_path / "d", PLATE + PORT, load_sweep=header + "1,230,50,0.02,9,C1,5 V,5,1\n")
    assert any("volts times amperes" in p.message for p in inspect_dossier(folder)[1])


@pytest.mark.parametrize(
    ("folder", "message"),
    [("missing", "no such folder"), ("empty", "is missing"), ("file", "not a folder")],
)
def test_no_dossier_at_all(tmp_path, folder, message):
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x")
    with pytest.raises(DossierError, match=message):
        read_dossier(tmp_path / folder)


CAPTURE = '[[captures]]\nkind = "plug-in"\nfile = "{file}"\nchannels = [{{ column = 2, quantity = "current" }}]\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time,CH1\ns,V\n0,1\n1,oops\n2,3\n", "line 4, column 2: 'oops': is not a number"),
        ("time,CH1\n0,1\n2,1\n1,1\n", "time does not rise after sample 2"),
        ("time,CH1\n", "no line with 2 columns of numbers"),
        ("time,CH1\n0,1\n", "fewer than two samples"),
        ("time,CH1\n0,1\n1\n2,3\n", "line 3, column 2: is missing"),
        ("", "no line with 2 columns of numbers"),
    ],
)
def test_wrong_captures(tmp_path, text, message):
    folder = make(tmp_path / "d", PLATE + CAPTURE.format(file="c.csv"), c=text)
    assert any(message in str(p) for p in errors(folder))


@pytest.mark.parametrize("file", ["gone.csv", "../outside.csv"])
def test_captures_must_lie_in_the_dossier(tmp_path, file):
    (tmp_path / "outside.csv").write_text("0,1\n1,2\n")
    folder = make(tmp_path / "d", PLATE + CAPTURE.format(file=file))
    assert len(errors(folder)) == 1


def test_capture_dialects_agree(tmp_path):
    capture = Capture(
        kind="plug-in", file="c.csv", time_scale=1e-3,
        channels=[Channel(column=2, quantity="current", scale=10.0, offset=-1.0)],
    )  # fmt: skip
    plain = "# sample interval,1\ntime,CH1\nms,V\n0,1.5\n1,2.5\n2,3.25\n"
    comma = "Sample;1\r\nTime;CH1\r\n0;1,5\r\n1;2,5\r\n2;3,25\r\n"
    for text in (plain, comma):
        path = tmp_path / "c.csv"
        path.write_bytes(text.encode())
        record, problems = read_record(path, capture)
        assert problems == []
        assert_allclose(record.time, [0, 1e-3, 2e-3], rtol=1e-12)
        assert_allclose(record.channel("current"), [5, 15, 22.5], rtol=1e-12)
        assert record.channel("voltage") is None


def test_a_million_samples(tmp_path):
    count = 1_000_000
    rows = np.column_stack([np.arange(count) * 1e-8, np.sin(np.arange(count) / 1e4)])
    text = "time,CH1\n" + "\n".join(f"{t:.8e},{v:.4f}" for t, v in rows) + "\n"
    folder = make(tmp_path / "d", PLATE + CAPTURE.format(file="c.csv"), c=text)
    record = read_dossier(folder).records[0]
    assert len(record.time) == count
    assert_allclose(record.channels[0], rows[:, 1], atol=6e-5)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("2.2 nF", "F", 2.2e-9), ("4,7µF", "F", 4.7e-6), ("10ohm", "ohm", 10), ("4k7", "ohm", None),
        ("0.65 mH", "H", 0.65e-3), ("5000 h", "s", 5000 * 3600), ("6.4 mm", "m", 6.4e-3),
        ("32 mm2", "m2", 32e-6), ("95 g", "kg", 0.095), ("-20 °C", "C", -20), ("65 kHz", "Hz", 65e3),
        ("20 %", "1", 0.2), ("0.2", "1", 0.2), ("3 W", "V", None), ("V", "V", None), ("nan V", "V", None),
        ("3 mC", "C", None), ("0.54 J/K", "J/K", 0.54), ("19.2 A2s", "A2s", 19.2),
    ],
)  # fmt: skip
def test_quantities(text, unit, value):
    if value is None:
        with pytest.raises(ValueError, match="must be a number|has the unit"):
            parse_quantity(text, unit)
    else:
        assert_allclose(parse_quantity(text, unit), value, rtol=1e-12)


@given(st.floats(-1e6, 1e6).map(lambda x: float(f"{x:.6g}")), st.sampled_from(["", "k", "m", "u"]))
def test_quantities_round_trip(number, prefix):
    factor = {"": 1, "k": 1e3, "m": 1e-3, "u": 1e-6}[prefix]
    assert_allclose(parse_quantity(f"{number!r} {prefix}V", "V"), number * factor, rtol=1e-12)


def test_places_of_keys():
    text = "[a]\nx = 1\n[[b]]\ny = 2\n[[b]]\n# note\ny = 3\n[[b.c]]\nz = 4\n[[b.c]]\nz = 5\n"
    assert line_of(text, ["a", "x"]) == 2
    assert line_of(text, ["b", 1, "y"]) == 7
    assert line_of(text, ["b", 1, "c", 1, "z"]) == 11
    assert line_of(text, ["b", 1, "missing"]) == 5
    assert line_of(text, ["nothing"]) is None


def test_every_table_names_its_columns():
    for name in TABLES:
        assert len(set(headings(TABLES[name]))) == len(TABLES[name])


def test_every_key_of_the_schema_is_a_plain_word():
    for table in Table.__subclasses__():
        assert all(key.isidentifier() and key.islower() for key in table.model_fields)
    assert "nameplate" in Adapter.model_fields


WIDE_PLATE = (
    PLATE
    + PORT
    + '[[ports]]\nname = "A"\nmodes = [{ name = "5 V", voltage = "5 V", current = "2 A" }]\n'
)


def test_units_on_a_line_of_their_own(tmp_path):
    text = (
        "point;mains voltage;mains frequency;input power;port;mode;output voltage;output current\n"
        ";[V];[Hz];(mW);;;mV;A\n"
        "1;230,1;50;6500;C1;5 V;5020;1,001\n"
    )
    frame, problems = read_table(
        make(tmp_path / "d", load_sweep=text) / "load_sweep.csv", TABLES["load_sweep"]
    )
    assert problems == []
    assert_allclose(
        frame[["input_power", "output_voltage", "output_current"]], [[6.5, 5.02, 1.001]], rtol=1e-12
    )
    assert frame["line"].tolist() == [3]


def test_a_wide_table_gives_a_row_for_each_port(tmp_path):
    """The same two points once long and once wide; an idle port has no row."""
    long = SWEEP + (
        "1,230,50,20,C1,5 V,5.01,2\n1,230,50,20,A,5 V,5.02,1\n2,230,50,8,C1,5 V,5.05,1\n"
    )
    wide = (
        "point,mains_voltage_v,mains_frequency_hz,input_power_w,mode,C1 output_voltage_v,"
        "C1 output_current_a,A_output_voltage_v,A_output_current_a\n"
        "1,230,50,20,5 V,5.01,2,5.02,1\n2,230,50,8,5 V,5.05,1,,\n"
    )
    frames = [
        read_dossier(make(tmp_path / name, WIDE_PLATE, load_sweep=text)).load_sweep
        for name, text in (("long", long), ("wide", wide))
    ]
    for column in TABLES["load_sweep"]:
        pd.testing.assert_series_equal(frames[0][column], frames[1][column])


def test_a_wide_table_names_the_port_that_lacks_a_column(tmp_path):
    text = (
        "point,mains_voltage_v,mains_frequency_hz,input_power_w,mode,C1 output_voltage_v,"
        "C1 output_current_a,A output_voltage_v\n1,230,50,20,5 V,5,2,5\n"
    )
    said = errors(make(tmp_path / "d", WIDE_PLATE, load_sweep=text))
    assert any("column is missing for A: output_current_a" in str(problem) for problem in said)


def test_a_sweep_in_several_files(tmp_path):
    folder = make(tmp_path / "d", load_sweep=SWEEP + "1,230,50,6.5,C1,5 V,5,1\n")
    (folder / "load_sweep_115v.csv").write_text(
        SWEEP + "1,115,60,6.6,C1,5 V,5,1.0\n1,115,60,x,C1,5 V,5,1\n"
    )
    assert any("load_sweep_115v.csv, line 3" in str(problem) for problem in errors(folder))
    (folder / "load_sweep_115v.csv").write_text(SWEEP + "1,115,60,4.0,C1,5 V,5,1.0\n")
    dossier = read_dossier(folder)
    assert dossier.load_sweep["point"].tolist() == ["1", "115v 1"]
    warned = [str(p) for p in dossier.problems if p.severity == "warning"]
    assert any(
        "load_sweep_115v.csv, line 2" in text and "efficiency over 1" in text for text in warned
    )


INTERVAL = CAPTURE.replace("column = 2", "column = 1") + 'time = "interval"\n'


@pytest.mark.parametrize(
    ("extra", "head"),
    [
        ("", "Sample Interval,2.0e-3\nStart,-0.004\nCH1\nA\n"),
        ("", "# sampling period: 2e-3\n# time of first sample: -4e-3\n"),
        ('sample_interval = "2 ms"\nstart_time = "-4 ms"\n', ""),
        ("time_scale = 0.001\n", "increment\t2\nfirst sample\t-4\n"),
    ],
)  # fmt: skip
def test_a_capture_without_a_time_column(tmp_path, extra, head):
    folder = make(tmp_path / "d", PLATE + INTERVAL.format(file="c.csv") + extra,
                  c=head + "1.5\n2.5e0\n-3\n")  # fmt: skip
    record = read_dossier(folder).records[0]
    assert_allclose(record.time, [-4e-3, -2e-3, 0], atol=1e-15)
    assert_allclose(record.channels[0], [1.5, 2.5, -3])


def test_a_capture_without_any_time_is_refused(tmp_path):
    folder = make(tmp_path / "d", PLATE + INTERVAL.format(file="c.csv"), c="CH1\n1\n2\n3\n")
    assert any("give sample_interval" in str(problem) for problem in errors(folder))
    wrong = CAPTURE.replace("column = 2", "column = 1").format(file="c.csv")
    folder = make(tmp_path / "e", PLATE + wrong, c="0,1\n1,2\n")
    assert any("column 1 holds the time" in str(problem) for problem in errors(folder))


def test_a_summary_says_what_was_understood():
    lines = understood(read_dossier(DEMO / "alder-27"))
    text = "\n".join(lines)
    assert "load_sweep.csv: " in text
    assert "39 points on 115 V and 230 V, 4 port and mode pairs" in text
    assert "captures/plug_in.csv: plug-in, " in text
    assert re.search(
        r"samples from \S+ to \S+ s, even steps of \S+ s; mains current \S+ to \S+ A", text
    )
