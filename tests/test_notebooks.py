"""What nbval can't see: it passes a notebook whose outputs were cleared."""

import json
import re
import tempfile
from pathlib import Path

import pytest
from places import ROOT

from adapterlab.assess import SECTIONS

FRAGILE = re.compile(
    "|".join(
        [r"at 0x[0-9a-f]+", r"ipykernel_\d", r"np\.(float|int)\d+\(", "image/svg"]
        + [re.escape(str(place)) for place in (ROOT, Path.home(), tempfile.gettempdir())]
    )
)
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
HEADINGS = [
    "What was measured",
    "What the parts predict",
    "Where they meet",
    "What it means",
    "Change this",
    "Derivation",
    "Try it yourself",
    "Cautions",
    "Sources",
]


def load(path):
    return json.loads(path.read_text(encoding="utf-8"))


def code_cells(notebook):
    return [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]


def strangers(notebook, section):
    """What shows that a notebook is not the one of `section`; empty for its own."""
    source = "\n".join("".join(cell["source"]) for cell in code_cells(notebook))
    title = "".join(notebook["cells"][0]["source"]).splitlines()[0]
    found = [] if title == f"# {section.question}" else [f"its title is {title!r}"]
    for room, name in (("assess", "section"), ("figures", "pictures")):
        imported = re.findall(rf"^from adapterlab\.{room} import (.*)$", source, re.MULTILINE)
        if imported != [f"{section.stem} as {name}"]:
            found.append(f"it imports {imported} from {room}")
        if not re.search(rf"\b{name}\.\w", source):
            found.append(f"it never uses {name}")
    return found


@pytest.mark.parametrize("section", SECTIONS, ids=lambda s: s.stem)
def test_a_notebook_belongs_to_its_section(section):
    """And a copy of any other section's notebook in its place is seen."""
    assert strangers(load(ROOT / "notebooks" / section.notebook), section) == []
    for other in SECTIONS:
        if other != section:
            assert len(strangers(load(ROOT / "notebooks" / other.notebook), section)) == 3


def test_every_section_has_its_notebook_and_no_other_lies_about():
    assert [path.name for path in NOTEBOOKS] == [section.notebook for section in SECTIONS]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
class TestTidy:
    def test_ran_from_top_to_bottom(self, path):
        counts = [cell["execution_count"] for cell in code_cells(load(path))]
        assert counts == list(range(1, len(counts) + 1)), "run adapterlab refresh"

    def test_cells_that_print_or_draw_have_their_output(self, path):
        for number, cell in enumerate(code_cells(load(path)), 1):
            source = "".join(cell["source"])
            if "print(" in source or "plt.show()" in source:
                assert cell["outputs"], f"cell {number}: outputs were cleared"

    def test_outputs_are_portable(self, path):
        for number, cell in enumerate(code_cells(load(path)), 1):
            for out in cell["outputs"]:
                assert out["output_type"] != "error", f"cell {number}: shows an error"
                assert out.get("name") != "stderr", f"cell {number}: warns on stderr"
                text = {k: v for k, v in out.get("data", {}).items() if k != "image/png"}
                found = FRAGILE.search(json.dumps([text, out.get("text", "")]))
                assert not found, f"cell {number}: {found and found[0]!r} changes from run to run"

    def test_cells_are_short(self, path):
        for number, cell in enumerate(code_cells(load(path)), 1):
            assert len(cell["source"]) <= 25, f"cell {number}: move code into the library"

    def test_a_sentence_before_each_code_cell(self, path):
        kinds = [cell["cell_type"] for cell in load(path)["cells"]]
        assert "code code" not in " ".join(kinds)

    def test_no_semicolon_star_import_or_own_function(self, path):
        for number, cell in enumerate(code_cells(load(path)), 1):
            source = "".join(cell["source"]).rstrip()
            assert not source.endswith(";"), f"cell {number}: end with plt.show()"
            assert "import *" not in source, f"cell {number}: name what you import"
            assert not re.search(r"^\s*def ", source, re.MULTILINE), f"cell {number}"

    def test_the_same_headings_in_the_same_order(self, path):
        text = "\n".join(
            "".join(cell["source"])
            for cell in load(path)["cells"]
            if cell["cell_type"] == "markdown"
        )
        found = [line[3:].strip() for line in text.splitlines() if line.startswith("## ")]
        assert found == HEADINGS

    def test_the_dossier_is_named_in_the_first_code_cell(self, path):
        first = "".join(code_cells(load(path))[0]["source"])
        assert 'os.environ.get("ADAPTERLAB_DOSSIER", "../data/demo/birch-60")' in first

    def test_metadata_says_nothing_of_the_machine(self, path):
        notebook = load(path)
        assert notebook["metadata"] == {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        }
        for index, cell in enumerate(notebook["cells"]):
            assert cell["id"] == f"cell-{index:03d}"

    def test_small(self, path):
        assert path.stat().st_size < 700_000
