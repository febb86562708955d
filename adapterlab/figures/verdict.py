"""The whole ledger in two pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.report import Finding
from adapterlab.assess.verdict import VerdictAssessment, distances
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    and_more,
    new_figure,
    nothing_to_show,
)
from adapterlab.judgement import EXPLAINED, FALLS_SHORT, MEETS, TOO_CLOSE, UNEXPLAINED

# Distances beyond this are drawn at the edge, with their number.
_REACH = 4.0
_ROWS, _LIMITS = 12, 9


def _short(text: str, length: int = 46) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def _are(count: int) -> str:
    return f"{count} {'is' if count == 1 else 'are'}"


def draw_distances(result: VerdictAssessment) -> Figure:
    """Distance of every reading from its prediction, over what both may be off."""
    table = distances(result.findings)
    title = "How far each reading lies from what the parts predict"
    if table.empty:
        return nothing_to_show(title, "No reading has a prediction yet.")
    ledger = result.findings
    odd, known = ledger.count(UNEXPLAINED), ledger.count(UNEXPLAINED, EXPLAINED)
    figure, axes = new_figure(
        f"Of {known} comparisons with the parts {_are(odd)} unexplained"
        if odd
        else f"All {known} comparisons with the parts are explained"
    )
    keys = ["section", "question", "word"]
    table["times"] = table.groupby(keys)["question"].transform("size")
    table = table.loc[table["distance"].abs().sort_values(ascending=False).index]
    table = table.drop_duplicates(keys).head(_ROWS).iloc[::-1]
    axes.axvspan(-1, 1, facecolor="none", edgecolor=PREDICTED, hatch="///", alpha=0.5, linewidth=0)
    place = np.arange(len(table))
    shown = table["distance"].clip(-_REACH, _REACH)
    beyond = (table["word"] == UNEXPLAINED).to_numpy()
    axes.hlines(place, 0, shown, color=QUIET, linewidth=1)
    axes.plot(shown[~beyond], place[~beyond], "o", color=MEASURED, label=EXPLAINED)
    axes.plot(shown[beyond], place[beyond], "X", color=LIMIT, markersize=12, label=UNEXPLAINED)
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
    labels = [
        _short(text) + (f" ({times})" if times > 1 else "")
        for text, times in zip(table["question"], table["times"], strict=True)
    ]
    axes.set_yticks(place, labels, fontsize=11)
    axes.set_xlim(-_REACH - 0.4, _REACH + 0.4)
    axes.set_xlabel("reading minus prediction, over what both may be off\n"
                    "(in brackets: comparisons of the same question)")  # fmt: skip
    figure.legend(loc="outside lower center", ncols=2)
    and_more(figure, int(table["times"].sum()), known, "comparisons")
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


def _limits_title(result: VerdictAssessment) -> str:
    ledger = result.findings
    known = ledger.count(MEETS, FALLS_SHORT, TOO_CLOSE)
    odd = [
        f"{ledger.count(word)} {said if ledger.count(word) == 1 else several}"
        for word, said, several in (
            (FALLS_SHORT, "falls short", "fall short"),
            (TOO_CLOSE, "is too close to call", "are too close to call"),
        )
        if ledger.count(word)
    ]
    if not odd:
        return f"All {known} findings against published figures meet them"
    return f"Of {known} findings against published figures {', '.join(odd)}"


def draw_limits(result: VerdictAssessment) -> Figure:
    """Share of each published limit that the readings use up."""
    # A share of a temperature on a scale without a natural zero would mean nothing.
    known = [
        finding
        for finding in result.findings.with_word(MEETS, FALLS_SHORT, TOO_CLOSE)
        if finding.reading
        and finding.limit
        and finding.reading.value > 0
        and finding.limit.value > 0
        and finding.reading.unit != "°C"
    ]
    if not known:
        title = "How much of each limit the readings use up"
        return nothing_to_show(title, "No reading could be held against a published limit.")
    worst: dict[str, Finding] = {}
    for finding in known:
        key = _limit_label(finding)
        if key not in worst or _use(finding) > _use(worst[key]):
            worst[key] = finding
    chosen = sorted(worst.values(), key=_use)[-_LIMITS:]
    figure, axes = new_figure(_limits_title(result))
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
    for word, marker, colour, fill in (
        (MEETS, "o", MEASURED, MEASURED),
        (TOO_CLOSE, "D", MEASURED, "white"),
        (FALLS_SHORT, "X", LIMIT, LIMIT),
    ):
        axes.plot([], [], marker, color=colour, mfc=fill, mew=2, markersize=10, label=word)
    axes.axvline(100, color=LIMIT, linestyle=(0, (6, 3)))
    axes.set_yticks(range(len(chosen)), [_limit_label(f) for f in chosen], fontsize=10)
    axes.set_xlim(0, max(105.0, 105 * _use(chosen[-1])))
    axes.set_xlabel("share of the limit used (%)")
    figure.legend(loc="outside lower center", ncols=3)
    ledger = result.findings
    missing = ledger.count(FALLS_SHORT) - sum(item.word == FALLS_SHORT for item in chosen)
    what = f"findings, of which {missing} {FALLS_SHORT}" if missing else "findings"
    and_more(figure, len(chosen), ledger.count(MEETS, FALLS_SHORT, TOO_CLOSE), what)
    return figure


def _words_title(result: VerdictAssessment) -> str:
    ledger = result.findings
    odd = [
        f"{ledger.count(word)} {word}" for word in (UNEXPLAINED, FALLS_SHORT) if ledger.count(word)
    ]
    return f"Of {len(ledger)} findings " + (
        f"these need a second look: {', '.join(odd)}"
        if odd
        else "none is unexplained and none falls short"
    )


def draw_words(result: VerdictAssessment) -> Figure:
    """How often each word was said, by section."""
    figure, axes = new_figure(_words_title(result))
    words = list(result.findings.counts)
    stems = list(result.sections)
    for row, stem in enumerate(reversed(stems)):
        counts = result.findings.in_section(stem).counts
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
