"""A whole review of one dossier: pages, figures, ledger, segment sheet."""

import html
import json
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
from matplotlib.figure import Figure

from adapterlab import __version__
from adapterlab.assess import SECTIONS
from adapterlab.assess.report import Finding, Ledger
from adapterlab.assess.verdict import (
    Chapter,
    Line,
    VerdictAssessment,
    assess,
    chapters,
    records,
    trace,
)
from adapterlab.dossier import Dossier, read_dossier
from adapterlab.figures.style import EXPORT_DPI
from adapterlab.judgement import FALLS_SHORT, TOO_CLOSE, UNEXPLAINED
from adapterlab.kit.folder import whole_folder
from adapterlab.kit.notebooks import Run, run_notebooks
from adapterlab.kit.pages import document, page_name, section_page

# Lines of a section that stand open on the segment sheet; the rest is folded away.
_FIRST = 2


def save_figures(figures: Mapping[str, Callable[[Any], Figure]], drawn: Any, folder: Path) -> None:
    """Save figures as PNG of 1920 x 1080 and as SVG.

    Parameters
    ----------
    figures : mapping of str to callable
        Name -> function that draws it.
    drawn : object
        What the functions take.
    folder : pathlib.Path
        Where to; made if it is missing.
    """
    folder.mkdir(exist_ok=True)
    for name, draw in figures.items():
        figure = draw(drawn)
        # Once laid out, both files may use the same layout; letters take more or less room
        # from one resolution to another, so it is done at that of the file.
        figure.set_dpi(EXPORT_DPI)
        figure.draw_without_rendering()
        figure.set_layout_engine("none")
        figure.savefig(folder / f"{name}.png", dpi=EXPORT_DPI, pil_kwargs={"compress_level": 3})
        figure.savefig(folder / f"{name}.svg", metadata={"Date": None})
        plt.close(figure)


def _draw_all(result: VerdictAssessment, folder: Path, step: Callable[[str], None]) -> list[str]:
    """Save the figures of every section; names in order."""
    names: list[str] = []
    for section in SECTIONS:
        figures = import_module(f"adapterlab.figures.{section.stem}").FIGURES
        assessment = result if section.stem == "verdict" else result.sections[section.stem]
        save_figures(figures, assessment, folder)
        names += figures
        step(f"figures of {section.stem}")
    return names


def _words(ledger: Ledger) -> str:
    return " ".join(
        f'<span class="word {word.replace(" ", "-")}">{count} {word}</span>'
        for word, count in ledger.counts.items()
    )


def _said(finding: Finding) -> str:
    """A sentence with where it comes from in small print."""
    picture = f"; picture {finding.figure}" if finding.figure else ""
    return (
        f"{html.escape(finding.sentence)}<br>"
        f'<span class="quiet">{html.escape(trace(finding) + picture)}</span>'
    )


def _lines_to_say(lines: Sequence[Line]) -> str:
    """One sentence for each question; further ones to the same question are folded away."""
    items = []
    for line in lines:
        more = "".join(f"<li>{_said(finding)}</li>" for finding in line.others)
        folded = f"<details><summary>{line.more}</summary><ul>{more}</ul></details>" if more else ""
        items.append(f"<li>{_said(line.finding)}{folded}</li>")
    return "<ul class='said'>" + "\n".join(items) + "</ul>"


def _chapter(chapter: Chapter) -> list[str]:
    """A heading of the sheet with its lines; by section, but for what does not fit."""
    body = [f"<h2>{html.escape(chapter.heading)}</h2>"]
    lines = chapter.lines
    if chapter.findings.count(UNEXPLAINED, FALLS_SHORT, TOO_CLOSE):
        return [*body, _lines_to_say(lines)]
    for section in SECTIONS:
        found = [line for line in lines if line.finding.section == section.stem]
        if found:
            body.append(f"<h3>{html.escape(section.question)}</h3>")
            body.append(_lines_to_say(found[:_FIRST]))
        if len(found) > _FIRST:
            more = _lines_to_say(found[_FIRST:])
            body.append(
                f"<details><summary>and {len(found) - _FIRST} more</summary>{more}</details>"
            )
    return body


def segment_sheet(dossier: Dossier, ledger: Ledger) -> str:
    """Page of lines that can be said aloud, each with where it comes from.

    Parameters
    ----------
    dossier : Dossier
        The record.
    ledger : Ledger
        All findings.

    Returns
    -------
    str
        A whole HTML document.
    """
    body = [
        f"<h1>Segment sheet: {html.escape(dossier.name)}</h1>",
        f'<p class="words">{_words(ledger)}</p>',
        "<p>Every line rests on the reading, the function and the source named below it. "
        "± gives 95 % coverage.</p>",
        f"<p>{html.escape(ledger.about_chance)}</p>",
    ]
    for chapter in chapters(ledger):
        body += _chapter(chapter)
    body.append(
        "<h2>Before the camera runs</h2><p>Mains voltage kills. Show nothing live with the "
        "case open; let the bulk capacitor discharge and prove it with a meter. This sheet "
        "compares a bench with published figures; licensed laboratories and local codes "
        "decide.</p>"
    )
    return document(f"Segment sheet: {dossier.name}", "\n".join(body))


def _index(dossier: Dossier, result: VerdictAssessment, runs: list[Run], figures: list[str]) -> str:
    plate = dossier.adapter.nameplate
    body = [
        f"<h1>{html.escape(dossier.name)}</h1>",
        f"<p>{plate.rated_power:g} W, {len(dossier.adapter.ports) or 'no'} "
        f"port{'s' if len(dossier.adapter.ports) != 1 else ''} listed. "
        f'<a href="segment_sheet.html">Segment sheet</a>, '
        '<a href="findings.csv">findings.csv</a>, <a href="findings.json">findings.json</a>.</p>',
        f'<p class="words">{_words(result.findings)}</p>',
        '<ul class="sections">',
    ]
    for run in runs:
        ledger = result.findings
        if run.section.stem != "verdict":
            ledger = ledger.in_section(run.section.stem)
        state = f'<span class="word falls-short">page failed: {html.escape(run.error)}</span>'
        body.append(
            f'<li><a href="{page_name(run.section)}">{html.escape(run.section.question)}</a><br>'
            f"{state if run.error else _words(ledger)}</li>"
        )
    body.append("</ul>")
    remarks = [problem for problem in dossier.problems if problem.severity in ("warning", "gap")]
    if remarks:
        body.append("<h2>About the record</h2><ul>")
        body += [f"<li>{html.escape(str(problem))}</li>" for problem in remarks]
        body.append("</ul>")
    body.append('<h2>Pictures</h2><div class="gallery">')
    for name in figures:
        label = html.escape(name.replace("_", " "))
        body.append(
            f'<figure><a href="figures/{name}.png"><img loading="lazy" alt="{label}" '
            f'src="figures/{name}.png"></a><figcaption class="quiet">{label}: '
            f'<a href="figures/{name}.png">PNG</a>, <a href="figures/{name}.svg">SVG</a>'
            f"</figcaption></figure>"
        )
    body.append(
        f'</div><p class="quiet">Written by adapterlab {__version__}. A bench comparison '
        "with published figures; licensed laboratories and local codes decide.</p>"
    )
    return document(dossier.name, "\n".join(body))


def _failed_page(run: Run, dossier: Dossier) -> str:
    body = (
        f"<h1>{html.escape(run.section.question)}</h1>"
        f'<p class="failed">This page could not be made: {html.escape(run.error)}</p>'
        '<p><a href="index.html">Back to the overview</a></p>'
    )
    return document(f"{dossier.name}: {run.section.question}", body)


def fill_review(
    dossier: Dossier, result: VerdictAssessment, folder: Path, step: Callable[[str], None]
) -> list[Run]:
    """Write the review of one dossier into a folder that exists.

    Parameters
    ----------
    dossier : Dossier
        The record.
    result : VerdictAssessment
        Its findings.
    folder : pathlib.Path
        Where to.
    step : callable
        Called with a short text after each step; there are two steps for each section.

    Returns
    -------
    list of Run
        How each notebook went; failed ones have a page that says so.
    """
    mpl.use("Agg")
    names: list[str] = []
    runs = run_notebooks(
        dossier.folder,
        lambda run: step(run.section.stem),
        meanwhile=lambda: names.extend(_draw_all(result, folder / "figures", step)),
    )
    for run in runs:
        ledger = result.findings
        if run.section.stem != "verdict":
            ledger = ledger.in_section(run.section.stem)
        page = (
            _failed_page(run, dossier)
            if run.notebook is None
            else section_page(run.notebook, run.section, dossier.name, ledger.counts)
        )
        (folder / page_name(run.section)).write_text(page, encoding="utf-8")
    table = records(result.findings)
    table.to_csv(folder / "findings.csv", index=False)
    rows = json.loads(table.to_json(orient="records", double_precision=15))
    (folder / "findings.json").write_text(
        json.dumps({"adapter": dossier.name, "findings": rows}, indent=1, ensure_ascii=False)
        + "\n",
        encoding="utf-8",
    )
    (folder / "segment_sheet.html").write_text(
        segment_sheet(dossier, result.findings), encoding="utf-8"
    )
    (folder / "index.html").write_text(_index(dossier, result, runs, names), encoding="utf-8")
    return runs


def write_review(source: Path, target: Path, step: Callable[[str], None]) -> list[Run]:
    """Review a dossier into a folder.

    Parameters
    ----------
    source : pathlib.Path
        The dossier's folder; nothing is written there.
    target : pathlib.Path
        Output folder; replaced if an earlier review wrote it.
    step : callable
        Called with a short text after each step; there are two steps for each section.

    Returns
    -------
    list of Run
        How each notebook went; failed ones have a page that says so.

    Raises
    ------
    DossierError
        If the dossier has errors.
    OutputError
        If the output folder can't or may not be written.
    """
    dossier = read_dossier(source)
    with whole_folder(target) as folder:
        return fill_review(dossier, assess(dossier), folder, step)
