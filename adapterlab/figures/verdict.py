"""The whole ledger in two pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.report.finding import (
    Finding,
)
from adapterlab.assess.verdict import VerdictAssessment, distances, word_counts
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    new_figure,
    nothing_to_show,
)
from adapterlab.judgement import FALLS_SHORT, NO_LIMIT, TOO_CLOSE, UNEXPLAINED

_REACH = 8.0


def _short(text: str, length: int = 46) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def draw_distances(result: VerdictAssessment) -> Figure:
    """Distance of every reading from its prediction, in standard uncertainties."""
    table = distances(result.findings)
    title = "How far each reading lies from what the parts predict"
    if table.empty:
        return nothing_to_show(title, "No reading has a prediction yet.")
    table = table.loc[table["distance"].abs().sort_values(ascending=False).index]
    table = table.drop_duplicates(["section", "question", "word"]).head(12).iloc[::-1]
    apart = int((table["word"] == UNEXPLAINED).sum())
    if apart:
        title = (
            f"{apart} of {len(table)} questions to the parts stay unexplained"
            if apart > 1
            else f"One of {len(table)} questions to the parts stays unexplained"
        )
    else:
        title = "Every reading lies within two standard uncertainties of its prediction"
    figure, axes = new_figure(title)
    axes.axvspan(-2, 2, facecolor="none", edgecolor=PREDICTED, hatch="///", alpha=0.5, linewidth=0)
    place = np.arange(len(table))
    shown = table["distance"].clip(-_REACH, _REACH)
    odd = (table["word"] == UNEXPLAINED).to_numpy()
    axes.hlines(place, 0, shown, color=QUIET, linewidth=1)
    axes.plot(shown[~odd], place[~odd], "o", color=MEASURED, label="explained")
    axes.plot(shown[odd], place[odd], "X", color=LIMIT, markersize=12, label="unexplained")
    for spot, value in zip(place, table["distance"], strict=True):
        if abs(value) > _REACH:
            axes.annotate(
                f"{value:+.0f}",
                (np.sign(value) * _REACH, spot),
                xytext=(0, 9),
                textcoords="offset points",
                ha="center",
                color=LIMIT,
                fontsize=11,
            )
    axes.set_yticks(place, [_short(text) for text in table["question"]], fontsize=11)
    axes.set_xlim(-_REACH - 0.8, _REACH + 0.8)
    axes.set_xlabel("reading minus prediction, in combined standard uncertainties")
    figure.legend(loc="outside lower center", ncols=2)
    return figure


def _use(finding: Finding) -> float:
    """How much of a limit is used up: above 1 is on the wrong side."""
    assert finding.reading is not None
    assert finding.limit is not None
    ratio = finding.reading.value / finding.limit.value
    return ratio if finding.limit.kind == "upper" else 1 / ratio


def _limit_label(finding: Finding) -> str:
    """Whose limit, and of what: the start of the sentence up to its first bracket."""
    assert finding.limit is not None
    subject = finding.sentence.split(" is ")[0].split(" (")[0]
    return f"{finding.limit.name.split(' (')[0]}\n{_short(subject, 44)}"


def draw_limits(result: VerdictAssessment) -> Figure:
    """Share of each published limit that the readings use up."""
    title = "How much of each limit the readings use up"
    # A share of a temperature on a scale without a natural zero would mean nothing.
    known = [
        finding
        for finding in result.findings
        if finding.reading
        and finding.limit
        and finding.reading.value > 0
        and finding.reading.unit != "°C"
        and finding.word != NO_LIMIT
    ]
    if not known:
        return nothing_to_show(title, "No reading could be held against a published limit.")
    worst: dict[str, Finding] = {}
    for finding in known:
        key = _limit_label(finding)
        if key not in worst or _use(finding) > _use(worst[key]):
            worst[key] = finding
    chosen = sorted(worst.values(), key=_use)[-9:]
    short = sum(finding.word == FALLS_SHORT for finding in chosen)
    title = (
        f"{short} of the {len(chosen)} tightest limits {'is' if short == 1 else 'are'} not met"
        if short
        else "No published limit is clearly missed"
    )
    figure, axes = new_figure(title)
    for spot, finding in enumerate(chosen):
        marker = {FALLS_SHORT: "X", TOO_CLOSE: "D"}.get(finding.word, "o")
        colour = LIMIT if finding.word == FALLS_SHORT else MEASURED
        hollow = finding.word == TOO_CLOSE
        axes.plot(
            100 * _use(finding),
            spot,
            marker,
            color=colour,
            markersize=11,
            mfc="white" if hollow else colour,
            mew=2,
        )
    axes.axvline(100, color=LIMIT, linestyle=(0, (6, 3)))
    axes.set_yticks(range(len(chosen)), [_limit_label(f) for f in chosen], fontsize=10)
    axes.set_xlim(0, max(105.0, 105 * _use(chosen[-1])))
    axes.set_xlabel("share of the limit used (%)")
    return figure


def _words_title(result: VerdictAssessment) -> str:
    counts = word_counts(result.findings)
    odd = [f"{counts[word]} {word}" for word in (FALLS_SHORT, UNEXPLAINED) if counts.get(word)]
    return f"Of {sum(counts.values())} findings " + (
        f"these need a second look: {', '.join(odd)}"
        if odd
        else "none falls short and none is unexplained"
    )


def draw_words(result: VerdictAssessment) -> Figure:
    """How often each word was said, by section."""
    figure, axes = new_figure(_words_title(result))
    words = list(word_counts(result.findings))
    stems = list(result.sections)
    for row, stem in enumerate(reversed(stems)):
        counts = word_counts(result.findings.in_section(stem))
        for column, word in enumerate(words):
            count = counts.get(word, 0)
            if count:
                odd = word in (UNEXPLAINED, FALLS_SHORT)
                axes.scatter(
                    column,
                    row,
                    s=520,
                    marker="s" if odd else "o",
                    facecolor="white",
                    edgecolor=LIMIT if odd else MEASURED,
                    linewidth=2,
                )
                axes.text(column, row, str(count), ha="center", va="center", fontsize=12)
    axes.set_xticks(range(len(words)), [word.replace(" ", "\n", 1) for word in words])
    axes.set_yticks(range(len(stems)), [stem.replace("_", " ") for stem in reversed(stems)])
    axes.set_xlim(-0.6, len(words) - 0.4)
    axes.set_ylim(-0.6, len(stems) - 0.4)
    axes.grid(visible=False)
    return figure


FIGURES: dict[str, Callable[[VerdictAssessment], Figure]] = {
    "verdict_distances": draw_distances,
    "verdict_limits": draw_limits,
    "verdict_words": draw_words,
}
