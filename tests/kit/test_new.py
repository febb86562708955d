"""Blank dossiers: written whole, readable at once, never into anybody's folder."""

import pytest

from adapterlab.dossier import inspect_dossier, read_dossier
from adapterlab.kit.cli import main
from adapterlab.kit.new import combination_text, port_text

PLATE = ["--power", "27 W", "--port", "C: 5 V 3 A, 9 V 3 A, 12 V 2.25 A, 3.3-11 V 2.4 A"]


def test_a_blank_dossier_is_whole_and_readable(tmp_path, capsys):
    target = tmp_path / "oak"
    assert main(["new", str(target), *PLATE]) == 0
    assert "29 load points planned" in capsys.readouterr().out
    dossier, problems = inspect_dossier(target)
    assert {problem.severity for problem in problems} == {"gap"}
    assert dossier.name == "oak"
    assert dossier.load_sweep.empty
    port = dossier.adapter.ports[0]
    assert [(mode.voltage, mode.minimum_voltage, mode.current) for mode in port.modes] == [
        (5.0, None, 3.0), (9.0, None, 3.0), (12.0, None, 2.25), (None, 3.3, 2.4)
    ]  # fmt: skip
    assert sorted(path.name for path in target.iterdir()) == [
        "adapter.toml", "bench_sheet.html", "captures", "load_sweep.csv", "no_load.csv", "photos",
        "temperatures.csv", "touch_current.csv",
    ]  # fmt: skip
    assert main(["check", str(target)]) == 0


def test_typing_readings_into_the_blank_rows_makes_them_points(tmp_path):
    target = tmp_path / "oak"
    main(["new", str(target), *PLATE])
    path = target / "load_sweep.csv"
    lines = path.read_text().splitlines()
    head = lines[0].split(",")
    cells = dict(zip(head, lines[1].split(","), strict=True))
    cells |= {"input_power_w": "30.6", "output_voltage_v": "11.98", "output_current_a": "2.25"}
    lines[1] = ",".join(cells[name] for name in head)
    path.write_text("\n".join(lines))
    sweep = read_dossier(target).load_sweep
    assert sweep[["input_power", "output_current", "set_current"]].to_numpy().tolist() == [
        [30.6, 2.25, 2.25]
    ]


def test_half_a_reading_is_an_error_not_a_plan(tmp_path, capsys):
    target = tmp_path / "oak"
    main(["new", str(target), *PLATE])
    path = target / "no_load.csv"
    path.write_text("mains_voltage_v,mains_frequency_hz,power_w,crest_factor\n230,,0.05,\n")
    assert main(["check", str(target)]) == 1
    assert "no_load.csv, line 2, mains_frequency_hz" in capsys.readouterr().err


def test_several_ports_and_what_the_label_allows_together(tmp_path):
    target = tmp_path / "ash"
    arguments = ["--power", "60 W", "--port", "C1: 9 V 3 A, 20 V 3 A", "--port", "A USB-A: 5 V 2.4 A",
                 "--together", "C1 20 V 2.4 A, A 5 V 2.4 A", "--name", "Ash & <b>sons</b>"]  # fmt: skip
    assert main(["new", str(target), *arguments]) == 0
    adapter = read_dossier(target).adapter
    assert [port.connector for port in adapter.ports] == ["USB-C", "USB-A"]
    assert adapter.combinations[0].total_power == 60.0
    sheet = (target / "bench_sheet.html").read_text()
    assert "Ash &amp; &lt;b&gt;sons" in sheet
    assert "<b>" not in sheet
    assert "Mains voltage kills" in sheet


def test_a_nameplate_file_may_hold_more(tmp_path):
    plate = tmp_path / "plate.toml"
    plate.write_text(
        '\ufeff[nameplate]\nname = "elm"\nrated_power = "18 W"\n[[ports]]\nname = "C"\n'
        'modes = [{ name = "9 V", voltage = "9 V", current = "2 A" }]\n'
        '[[instruments]]\nname = "m"\nmeasures = "input power"\nfraction_of_reading = "0.2 %"\n',
        encoding="utf-8",
    )
    assert main(["new", str(tmp_path / "elm"), "--nameplate", str(plate)]) == 0
    assert read_dossier(tmp_path / "elm").adapter.instruments[0].fraction_of_reading == 0.002


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        ([], 2, "give --power and --port, or a file with --nameplate"),
        (["--power", "27 W"], 2, "give --port"),
        (["--power", "5 apples", "--port", "C: 5 V 3 A"], 1, "'5 apples'"),
        (["--power", "27 W", "--port", "C 5 V 3 A"], 1, "write it like"),
        (["--power", "27 W", "--port", "C: five volts"], 1, "'five volts' is no mode"),
        (["--power", "27 W", "--port", "C: 5 V 3 A", "--mains", "low"], 1, "mains 'low'"),
        (["--power", "27 W", "--port", "C: 9-5 V 3 A"], 1, "minimum_voltage must be below"),
        (["--nameplate", "nowhere.toml"], 1, "nowhere.toml"),
    ],
)
def test_wrong_options_write_nothing(tmp_path, monkeypatch, capsys, arguments, code, message):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "oak", *arguments]) == code
    said = capsys.readouterr().err
    assert message in said
    assert "Traceback" not in said
    assert "errors.pydantic" not in said
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_into_a_folder_in_use(tmp_path, capsys):
    target = tmp_path / "oak"
    target.mkdir()
    (target / "mine.txt").write_text("precious")
    assert main(["new", str(target), *PLATE]) == 1
    assert "is not an empty folder" in capsys.readouterr().err
    assert [path.name for path in target.iterdir()] == ["mine.txt"]
    assert main(["new", str(tmp_path / "a" / "b"), *PLATE]) == 1
    assert "does not exist" in capsys.readouterr().err


def test_an_empty_folder_will_do(tmp_path):
    (tmp_path / "oak").mkdir()
    assert main(["new", str(tmp_path / "oak"), *PLATE]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["oak"]


@pytest.mark.parametrize("spec", ["", ":", "C:", "C: 5 V", "C: 5 V 3 A,, 9 V 1 A"])
def test_unreadable_ports(spec):
    with pytest.raises(ValueError, match="write it like|is no mode"):
        port_text(spec)


def test_unreadable_combinations():
    with pytest.raises(ValueError, match="write it like"):
        combination_text("C1 at 20 V")
