"""Rule for the failures of a whole review: which are more than chance would bring."""

from collections.abc import Sequence

from scipy.stats import false_discovery_control

from adapterlab.judgement.words import FALSE_DISCOVERIES, Judgement


def stand_out(judgements: Sequence[Judgement]) -> list[bool]:
    """Which failures of a whole review are more than chance would bring.

    Parameters
    ----------
    judgements : sequence of Judgement
        All judgements of one review.

    Returns
    -------
    list of bool
        True for each *falls short* and *unexplained* that stays one when the many comparisons are
        allowed for, and for each that rests on a count, in which chance has no say.

    Raises
    ------
    ValueError
        If a p-value is missing where a comparison was judged.

    Notes
    -----
    Of fifty comparisons at 95 %, two or three fail though nothing is wrong. The p-values of all
    comparisons, good ones too, are therefore raised after Benjamini and Yekutieli, so that at most
    5 % of the failures picked out are expected to be false alarms, however the comparisons hang
    together: one wrong part shows in many readings.

    References
    ----------
    Benjamini and Yekutieli: The control of the false discovery rate in multiple testing under
    dependency, The Annals of Statistics 29 (2001), 1165-1188, theorem 1.3;
    `scipy.stats.false_discovery_control`.

    Examples
    --------
    >>> from adapterlab.judgement import against_limit
    >>> failures = [against_limit(9, 1, lower=15), against_limit(9, 1, lower=11.2)]
    >>> [made.word for made in failures]
    ['falls short', 'falls short']
    >>> stand_out(failures), stand_out(failures + 20 * [against_limit(9, 1, upper=12)])[:2]
    ([True, True], [True, False])
    """
    places = [place for place, made in enumerate(judgements) if made.false_alarm > 0]
    chances = [judgements[place].p_value for place in places]
    if any(chance is None for chance in chances):
        raise ValueError("judgements must have a p-value where one was judged, got none")
    raised = false_discovery_control(chances, method="by") if chances else []
    believed = [made.failed for made in judgements]
    for place, chance in zip(places, raised, strict=True):
        believed[place] = judgements[place].failed and bool(chance <= FALSE_DISCOVERIES)
    return believed
