"""The command as a user would type it, with wrong input too."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from importlib import import_module
from pathlib import Path

import matplotlib.pyplot as plt
import nbformat
import pytest
from places import ROOT

import adapterlab.assess as assess
import adapterlab.kit.notebooks as notebooks
from adapterlab.assess import SECTIONS, Section
from adapterlab.dossier import read_dossier
from adapterlab.judgement import (
    EXPLAINED,
    FALLS_SHORT,
    MEETS,
    NOT_MEASURED,
    TOO_CLOSE,
    UNEXPLAINED,
    WORDS,
)
from adapterlab.kit import review as review_module
from adapterlab.kit.cli import main
from adapterlab.kit.folder import OutputError, check_target, whole_folder
from adapterlab.kit.pages import mathml, page_name

DEMO = ROOT / "data" / "demo"
HOSTILE = '<img src=x onerror=alert(1)> & "friends"'


def command(*arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "adapterlab.kit.cli", *map(str, arguments)],
        capture_output=True, text=True, check=False, **options,
    )  # fmt: skip


def plate_only(folder, name="thing"):
    folder.mkdir()
    text = f'[nameplate]\nname = {json.dumps(name)}\nrated_power = "18 W"\n'
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def two_sections(monkeypatch, tmp_path):
    """Two tiny notebooks in the place of the real ones."""
    folder = tmp_path / "notebooks"
    folder.mkdir()
    sections = tuple(
        section for section in SECTIONS if section.stem in ("touch_current", "verdict")
    )
    for section in sections:
        book = nbformat.v4.new_notebook()
        book.cells = [
            nbformat.v4.new_markdown_cell(f"# {section.stem}\n\nEnergy is $E = C V^2/2$."),
            nbformat.v4.new_code_cell(
                "import os\nprint('•', os.environ.get('ADAPTERLAB_DOSSIER'))"
            ),
        ]
        nbformat.write(book, folder / section.notebook)
    for module in (assess, notebooks, review_module):
        monkeypatch.setattr(module, "SECTIONS", sections)
    monkeypatch.setattr(notebooks, "notebook_folder", lambda: folder)
    return folder


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        ([], 2, "required"),
        (["fly"], 2, "invalid choice: 'fly'"),
        (["review", "somewhere"], 2, "--out"),
        (["review", "nowhere", "--out", "out"], 1, "no such folder"),
        (["check", "nowhere"], 1, "no such folder"),
        (["check", "empty"], 1, "adapter.toml: is missing"),
        (["lab", "nowhere"], 1, "no such folder"),
        (["--version"], 0, ""),
    ],
)
def test_wrong_command_lines(tmp_path, monkeypatch, capsys, arguments, code, message):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    try:
        result = main(arguments)
    except SystemExit as stop:
        result = stop.code
    said = capsys.readouterr().err
    assert result == code
    assert message in said
    assert "Traceback" not in said
    assert sorted(p.name for p in tmp_path.iterdir()) == ["empty"]


@pytest.mark.parametrize("name", ["alder-27", "birch-60", "cedar-65", "dogwood-18"])
def test_check_passes_the_demo(name, capsys):
    assert main(["check", str(DEMO / name)]) == 0
    assert "no errors" in capsys.readouterr().out


def test_check_lists_gaps_of_a_nameplate(tmp_path, capsys):
    assert main(["check", str(plate_only(tmp_path / "d"))]) == 0
    said = capsys.readouterr().out
    for section in SECTIONS[:-1]:
        assert f"gap: {section.stem}:" in said


def test_a_whole_review_of_a_nameplate_with_a_hostile_name(tmp_path):
    """Every notebook runs on a dossier that holds a nameplate only; no text becomes markup."""
    source = plate_only(tmp_path / "d", HOSTILE)
    target = tmp_path / "out"
    result = command("review", source, "--out", target)
    assert result.returncode == 0, result.stderr
    assert "Traceback" not in result.stderr
    pages = sorted(target.glob("*.html"))
    assert {page_name(s) for s in SECTIONS} | {"index.html", "segment_sheet.html"} == {
        page.name for page in pages
    }
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert "<img src=x" not in text
        assert "&lt;img src=x" in text
        assert not re.search(r"""(src|href)=["']https?://""", text), f"{page.name} needs a network"
        assert "<script" not in text
    words = {row["word"] for row in json.loads((target / "findings.json").read_text())["findings"]}
    assert words == {NOT_MEASURED}


def test_a_whole_review_of_a_demo_adapter(tmp_path):
    target = tmp_path / "out"
    result = command("review", DEMO / "birch-60", "--out", target)
    assert result.returncode == 0, result.stderr
    assert result.stdout.strip() == str(target / "index.html")
    for png in (target / "figures").glob("*.png"):
        header = png.read_bytes()[16:24]
        size = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:], "big")
        assert size == (1920, 1080), png.name
        assert png.with_suffix(".svg").is_file()
    findings = json.loads((target / "findings.json").read_text(encoding="utf-8"))["findings"]
    figures = {png.stem for png in (target / "figures").glob("*.png")}
    ranks = [WORDS.index(row["word"]) for row in findings]
    assert ranks == sorted(ranks)
    for row in findings:
        assert row["figure"] in figures | {""}
        if row["word"] in (UNEXPLAINED, FALLS_SHORT, TOO_CLOSE, MEETS, EXPLAINED):
            assert re.search(r"\d", row["sentence"])
            assert row["reading"] is not None or row["prediction"] is not None
    csv_lines = (target / "findings.csv").read_text(encoding="utf-8").splitlines()
    assert len(csv_lines) >= len(findings) + 1
    assert "<math" in (target / "06_touch_current.html").read_text(encoding="utf-8")


def test_a_review_again_replaces_the_earlier_one(two_sections, tmp_path):
    target = tmp_path / "out"
    for place in (target, target / ".." / "out"):
        assert main(["review", str(DEMO / "dogwood-18"), "--out", str(place)]) == 0
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()].count("out") == 1


def test_notebooks_share_a_process_but_no_variables(two_sections):
    for path in two_sections.glob("*.ipynb"):
        book = nbformat.read(path, as_version=4)
        book.cells[1].source = "print('left' in globals(), len(In))\nleft = 1"
        nbformat.write(book, path)
    runs = notebooks.run_notebooks(None, lambda _: None, workers=1)
    for run in runs:
        assert run.error == ""
        assert run.notebook.cells[1].execution_count == 1
        assert run.notebook.cells[1].outputs[0].text == "False 2\n"


def test_a_dossier_with_errors_is_refused_before_anything_is_written(tmp_path, capsys):
    source = plate_only(tmp_path / "d")
    (source / "no_load.csv").write_text("mains_voltage_v,mains_frequency_hz,power_w\n230,50,x\n")
    assert main(["review", str(source), "--out", str(tmp_path / "out")]) == 1
    said = capsys.readouterr().err
    assert "no_load.csv, line 2, power_w: 'x': is not a number" in said
    assert not (tmp_path / "out").exists()


def test_a_broken_notebook_spoils_only_its_own_page(two_sections, tmp_path, capsys):
    path = two_sections / "13_verdict.ipynb"
    book = nbformat.read(path, as_version=4)
    book.cells[1].source = "raise RuntimeError('no <b>luck</b>')"
    nbformat.write(book, path)
    target = tmp_path / "out"
    assert main(["review", str(DEMO / "dogwood-18"), "--out", str(target)]) == 1
    assert "13_verdict.ipynb failed: RuntimeError: no <b>luck</b>" in capsys.readouterr().err
    assert "no &lt;b&gt;luck" in (target / "13_verdict.html").read_text(encoding="utf-8")
    good = (target / "06_touch_current.html").read_text(encoding="utf-8")
    assert str(DEMO / "dogwood-18") in good
    assert "<math" in good


def test_an_unreadable_notebook_spoils_only_its_own_page(two_sections, tmp_path, capsys):
    (two_sections / "13_verdict.ipynb").write_text("{", encoding="utf-8")
    assert main(["review", str(DEMO / "dogwood-18"), "--out", str(tmp_path / "out")]) == 1
    assert "13_verdict.ipynb can't be read" in capsys.readouterr().err
    assert (tmp_path / "out" / "06_touch_current.html").is_file()


def test_refresh_twice_changes_no_byte(two_sections, capsys):
    assert main(["refresh"]) == 0
    first = {path.name: path.read_bytes() for path in two_sections.glob("*.ipynb")}
    assert main(["refresh"]) == 0
    assert first == {path.name: path.read_bytes() for path in two_sections.glob("*.ipynb")}
    assert b'"cell-000"' in first["13_verdict.ipynb"]


def test_foreign_files_are_never_swallowed(tmp_path):
    target = tmp_path / "out"
    with whole_folder(target) as draft:
        (draft / "page.html").write_text("ours")
    (target / "mine.txt").write_text("precious")
    with pytest.raises(OutputError, match="mine.txt"):
        check_target(target)
    assert (target / "mine.txt").read_text() == "precious"
    with pytest.raises(OutputError, match="is a file"):
        check_target(target / "mine.txt")
    with pytest.raises(OutputError, match="does not exist"):
        check_target(tmp_path / "a" / "b")


def test_an_earlier_review_is_replaced_whole(tmp_path):
    target = tmp_path / "out"
    for name in ("old.html", "new.html"):
        with whole_folder(target) as draft:
            (draft / name).write_text("x")
    assert sorted(p.name for p in target.iterdir()) == ["manifest.json", "new.html"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]


def test_a_failure_leaves_the_earlier_review_alone(tmp_path):
    target = tmp_path / "out"
    with whole_folder(target) as draft:
        (draft / "old.html").write_text("x")

    def interrupted():
        with whole_folder(target) as draft:
            (draft / "half.html").write_text("x")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert sorted(p.name for p in target.iterdir()) == ["manifest.json", "old.html"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs a place nobody may write to")
def test_no_permission_to_write(capsys):
    assert main(["review", str(DEMO / "dogwood-18"), "--out", "/proc/out"]) == 1
    said = capsys.readouterr().err
    assert "can't write" in said
    assert "Traceback" not in said


def test_nothing_may_be_written_into_a_dossier(tmp_path, capsys):
    source = shutil.copytree(DEMO / "dogwood-18", tmp_path / "d")
    assert main(["review", str(source), "--out", str(source / "out")]) == 1
    assert "nothing is written into a dossier" in capsys.readouterr().err
    assert not (source / "out").exists()


STARTED = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from adapterlab.kit.cli import main
sys.exit(main())
"""


def _processes_with(mark):
    """Live processes with `mark` in their environment, which kernels inherit."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if mark.encode() in (place / "environ").read_bytes():
                found.append(int(place.name))
    return found


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for processes left behind")
def test_interrupting_leaves_nothing_behind(tmp_path):
    """However the tests were started: the command begins with signals as a terminal gives them."""
    mark = f"ADAPTERLAB_TEST_MARK={tmp_path}"
    process = subprocess.Popen(
        [sys.executable, "-c", STARTED, "review", str(DEMO / "dogwood-18"),
         "--out", str(tmp_path / "out")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=dict([*os.environ.items(), mark.split("=", 1)]),
    )  # fmt: skip
    try:
        deadline = time.monotonic() + 60
        while len(_processes_with(mark)) < 2 and time.monotonic() < deadline:
            time.sleep(0.05)
        assert process.poll() is None
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
        assert process.returncode == 130
        assert "interrupted; nothing was written" in said
        assert "Traceback" not in said
        assert list(tmp_path.iterdir()) == []
        assert _processes_with(mark) == []
    finally:
        for number in _processes_with(mark):
            os.kill(number, signal.SIGKILL)
        process.wait()


@pytest.mark.skipif(os.name != "posix", reason="sends signals")
@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGHUP])
def test_a_kill_or_a_closed_terminal_ends_like_an_interrupt(tmp_path, monkeypatch, capsys, ending):
    def killed(source, target, step):
        with whole_folder(target):
            os.kill(os.getpid(), ending)

    before = signal.signal(ending, signal.SIG_DFL)
    try:
        monkeypatch.setattr(review_module, "write_review", killed)
        arguments = ["review", str(DEMO / "dogwood-18"), "--out", str(tmp_path / "out")]
        assert main(arguments) == 128 + ending
        assert signal.getsignal(ending) == signal.SIG_DFL
    finally:
        signal.signal(ending, before)
    assert "interrupted; nothing was written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="sends signals")
def test_a_signal_that_was_ignored_stays_ignored(tmp_path, monkeypatch):
    """As under nohup."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        monkeypatch.setattr(
            review_module, "write_review", lambda *_: os.kill(os.getpid(), signal.SIGHUP) or []
        )
        arguments = ["review", str(DEMO / "dogwood-18"), "--out", str(tmp_path / "out")]
        assert main(arguments) == 0
    finally:
        signal.signal(signal.SIGHUP, before)


def test_lab_hands_the_dossier_over(monkeypatch):
    seen = {}

    def fake(command, env, check):
        seen.update(command=command, dossier=env[notebooks.VARIABLE])
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(subprocess, "run", fake)
    assert main(["lab", str(DEMO / "alder-27")]) == 0
    assert seen["dossier"] == str((DEMO / "alder-27").resolve())
    assert seen["command"][1:3] == ["-m", "jupyterlab"]


@pytest.mark.parametrize(
    "latex",
    [
        r"\frac{a}{b}",
        r"$\displaystyle \hat V \cos\theta$",
        r"\left[\begin{matrix}1\\2\end{matrix}\right]",
    ],
)
def test_equations_become_mathml(latex):
    assert mathml(latex).startswith("<math")


def test_sections_are_in_reading_order():
    numbers = [section.number for section in SECTIONS]
    assert numbers == sorted(numbers)
    assert Section(6, "touch_current", "?").notebook == "06_touch_current.ipynb"


@pytest.mark.parametrize("stem", [section.stem for section in SECTIONS])
def test_no_axis_label_is_an_unparsed_formula(stem):
    result = import_module(f"adapterlab.assess.{stem}").assess(read_dossier(DEMO / "birch-60"))
    for name, draw in import_module(f"adapterlab.figures.{stem}").FIGURES.items():
        figure = draw(result)
        figure.draw_without_rendering()
        for axes in figure.axes:
            labels = [*axes.get_xticklabels(), *axes.get_yticklabels()]
            assert not [label for label in labels if "$" in label.get_text()], name
        plt.close(figure)
