"""From an executed notebook to a page that needs nothing from outside.

Equations become MathML, which browsers draw by themselves; pictures are part of the file; every
text a user wrote is escaped.
"""

import html
from pathlib import Path
from typing import Any

from latex2mathml.converter import convert
from nbconvert import HTMLExporter
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
from pygments.formatters import HtmlFormatter

from adapterlab.assess import SECTIONS, Section

_TEMPLATES = Path(__file__).parent / "template"


def mathml(latex: str, *, display: bool = True) -> str:
    """MathML of a LaTeX formula.

    Parameters
    ----------
    latex : str
        Formula, with or without its dollar signs.
    display : bool, optional
        Set apart on a line of its own.

    Returns
    -------
    str
        A ``math`` element; the escaped text itself if it can't be read.
    """
    bare = latex.strip().strip("$").replace("\\displaystyle", "").strip()
    try:
        return convert(bare, display="block" if display else "inline")
    except Exception:
        return f"<code>{html.escape(bare)}</code>"


class _Renderer(IPythonRenderer):
    """Markdown whose equations are MathML."""

    def block_math(self, body: str) -> str:
        return f'<div class="equation">{mathml(body)}</div>\n'

    def inline_math(self, body: str) -> str:
        return mathml(body, display=False)


def _markdown(source: str) -> str:
    return str(MarkdownWithMath(renderer=_Renderer(escape=False)).render(source))


def _style() -> str:
    own = (_TEMPLATES / "page.css").read_text(encoding="utf-8")
    return own + str(HtmlFormatter(style="friendly").get_style_defs(".highlight"))


def page_name(section: Section) -> str:
    """File name of a section's page."""
    return section.notebook.replace(".ipynb", ".html")


def _exporter() -> HTMLExporter:
    exporter = HTMLExporter(
        template_name="adapterlab",
        extra_template_basedirs=[str(_TEMPLATES)],
        filters={"own_markdown": _markdown, "mathml": mathml},
    )
    exporter.exclude_input_prompt = exporter.exclude_output_prompt = True
    return exporter


def section_page(notebook: Any, section: Section, adapter: str, words: dict[str, int]) -> str:
    """Page of one section.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        Its executed notebook.
    section : Section
        The section.
    adapter : str
        Name on the nameplate.
    words : dict of str to int
        How often each verdict word occurs in the section.

    Returns
    -------
    str
        A whole HTML document.
    """
    _describe_pictures(notebook)
    resources = {
        "adapterlab": {
            "style": _style(),
            "adapter": adapter,
            "section": section,
            "sections": [(item, page_name(item)) for item in SECTIONS],
            "words": words,
        }
    }
    body, _ = _exporter().from_notebook_node(notebook, resources=resources)
    return str(body)


def _describe_pictures(notebook: Any) -> None:
    """Give each picture the sentence before it as its text for those who can't see it."""
    before = ""
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            before = cell.source.strip().split("\n\n")[-1].replace("\n", " ")
        else:
            cell.metadata["alt"] = before


def document(title: str, body: str) -> str:
    """A page of our own making in the same look.

    Parameters
    ----------
    title : str
        Plain text.
    body : str
        HTML, its texts already escaped.

    Returns
    -------
    str
        A whole HTML document.
    """
    return (
        '<!DOCTYPE html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(title)}</title>\n<style>{_style()}</style>\n</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )
