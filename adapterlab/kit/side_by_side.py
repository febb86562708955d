"""Reviews of two dossiers in one folder, with a page that sets them side by side."""

import html
import re
from collections.abc import Callable
from pathlib import Path

from adapterlab.assess.comparison import Comparison, compare
from adapterlab.assess.verdict import assess
from adapterlab.dossier import Dossier, read_dossier
from adapterlab.figures.comparison import FIGURES
from adapterlab.judgement import UNEXPLAINED
from adapterlab.kit.folder import whole_folder
from adapterlab.kit.notebooks import Run
from adapterlab.kit.pages import document
from adapterlab.kit.review import fill_review, save_figures


def folder_names(names: tuple[str, str]) -> tuple[str, str]:
    """Names of two subfolders after the adapters, plain and different."""
    first, second = (re.sub(r"[^A-Za-z0-9-]+", "-", name).strip("-").lower() for name in names)
    if not first or not second or first == second:
        return "first", "second"
    return first, second


def _said(sentences: list[str]) -> str:
    return "<ul class='said'>" + "".join(f"<li>{html.escape(s)}</li>" for s in sentences) + "</ul>"


def _picture(name: str, label: str) -> str:
    return (
        f'<figure><a href="figures/{name}.png"><img alt="{html.escape(label)}" '
        f'src="figures/{name}.png"></a></figure>'
    )


def side_by_side_page(result: Comparison, folders: tuple[str, str]) -> str:
    """Page that sets two adapters side by side.

    Parameters
    ----------
    result : Comparison
        The differences.
    folders : tuple of str
        Subfolders of the two reviews.

    Returns
    -------
    str
        A whole HTML document.
    """
    links = " and ".join(
        f'<a href="{folder}/index.html">{html.escape(name)}</a>'
        for name, folder in zip(result.names, folders, strict=True)
    )
    open_ones = [item.sentence for item in result.explained if item.word == UNEXPLAINED]
    closed = [item.sentence for item in result.explained if item.word != UNEXPLAINED]
    title = f"{result.names[0]} and {result.names[1]} side by side"
    body = [f"<h1>{html.escape(title)}</h1><p>The whole reviews: {links}.</p>"]
    if open_ones:
        body.append("<h2>What the parts do not explain</h2>" + _said(open_ones))
    body.append("<h2>What differs, and how surely</h2>")
    if result.differences:
        body.append(
            "<p>± gives 95 % coverage. Nothing says which share of a meter's error is common to "
            "two readings, unless its transfer accuracy is listed: a difference is called only if "
            "it holds whether all of it is or none.</p>"
        )
        body.append(_said([f"{item.sentence} {item.cause}".strip() for item in result.differences]))
    else:
        body.append("<p>The two have no measured figure in common.</p>")
    body.append(_picture("comparison_ratios", "each figure of the one over that of the other"))
    body.append("<h2>What the parts explain</h2>")
    body.append(_said(closed) if closed else "<p>Nothing that both dossiers hold.</p>")
    body.append(_picture("comparison_explained", "ratios as measured and as the parts predict"))
    body.append("<h2>What was said of each</h2>")
    table = result.words.assign(section=result.words["section"].str.replace("_", " "))
    body.append(f'<div class="table">{table.to_html(index=False, escape=True, border=0)}</div>')
    body.append(
        '<p class="quiet">A bench comparison of two specimens; licensed laboratories and local '
        "codes decide.</p>"
    )
    return document(title, "\n".join(body))


def _index(dossiers: tuple[Dossier, Dossier], folders: tuple[str, str]) -> str:
    items = [
        f'<li><a href="{folder}/index.html">{html.escape(dossier.name)}</a><br>'
        f'<a href="{folder}/segment_sheet.html">segment sheet</a></li>'
        for dossier, folder in zip(dossiers, folders, strict=True)
    ]
    title = f"{dossiers[0].name} and {dossiers[1].name}"
    return document(
        title,
        f"<h1>{html.escape(title)}</h1><ul class='sections'>"
        f'<li><a href="side_by_side.html">Side by side</a><br>what differs, how surely, and which '
        f"parts explain it</li>{''.join(items)}</ul>",
    )


def write_two_reviews(
    sources: tuple[Path, Path], target: Path, step: Callable[[str], None]
) -> list[Run]:
    """Review two dossiers into one folder.

    Parameters
    ----------
    sources : tuple of pathlib.Path
        The dossiers' folders; nothing is written there.
    target : pathlib.Path
        Output folder; replaced if an earlier review wrote it.
    step : callable
        Called with a short text after each step; there are two steps for each section and dossier.

    Returns
    -------
    list of Run
        How each notebook went.

    Raises
    ------
    DossierError
        If a dossier has errors.
    OutputError
        If the output folder can't or may not be written.
    """
    first, second = (read_dossier(source) for source in sources)
    results = assess(first), assess(second)
    comparison = compare((first, second), results)
    folders = folder_names((first.name, second.name))
    runs: list[Run] = []
    with whole_folder(target) as draft:
        for dossier, result, name in zip((first, second), results, folders, strict=True):
            (draft / name).mkdir()
            runs += fill_review(dossier, result, draft / name, step)
        save_figures(FIGURES, comparison, draft / "figures")
        page = side_by_side_page(comparison, folders)
        (draft / "side_by_side.html").write_text(page, encoding="utf-8")
        (draft / "index.html").write_text(_index((first, second), folders), encoding="utf-8")
    return runs
