"""Rules for where there is nothing to choose, with the reason."""

from adapterlab.judgement.words import (
    DOES_NOT_APPLY,
    NO_LIMIT,
    NOT_ASSESSED,
    NOT_JUDGED,
    NOT_MEASURED,
    RESULT,
    Judgement,
    judged,
)


def result() -> Judgement:
    """Rule for a figure that is held against nothing.

    Returns
    -------
    Judgement
        *result*.

    Raises
    ------
    ValueError
        Never.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> result().word
    'result'
    """
    return judged(RESULT, "result")


def not_judged(reason: str) -> Judgement:
    """Rule for a limit that exists where no verdict can rest on it; the reason is said.

    Parameters
    ----------
    reason : str
        Why no verdict can rest on the limit; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *not judged*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_judged("its source is a memory").word
    'not judged'
    """
    return judged(NOT_JUDGED, "not_judged", reason=_why(reason))


def no_limit(reason: str) -> Judgement:
    """Rule for a published limit that does not cover this adapter; the reason is said.

    Parameters
    ----------
    reason : str
        Why the limit does not cover this adapter; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *no limit applies*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> no_limit("it draws less than 75 W").word
    'no limit applies'
    """
    return judged(NO_LIMIT, "no_limit", reason=_why(reason))


def does_not_apply(reason: str) -> Judgement:
    """Rule for a question that has no sense for this adapter; the reason is said.

    Parameters
    ----------
    reason : str
        Why the question has no sense here; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *does not apply*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> does_not_apply("it has one converter").word
    'does not apply'
    """
    return judged(DOES_NOT_APPLY, "does_not_apply", reason=_why(reason))


def not_measured(needed: str) -> Judgement:
    """Rule for what the dossier does not hold; what would be needed is said.

    Parameters
    ----------
    needed : str
        Which reading or entry is missing; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *not measured*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_measured("a capture of kind ripple").word
    'not measured'
    """
    return judged(NOT_MEASURED, "not_measured", reason=_why(needed))


def not_assessed(reason: str) -> Judgement:
    """Rule for a question at which the kit itself failed; why and where is said.

    Parameters
    ----------
    reason : str
        What failed, and where.  Must not be empty.

    Returns
    -------
    Judgement
        *could not be assessed*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_assessed("ValueError in the ripple").word
    'could not be assessed'
    """
    return judged(NOT_ASSESSED, "not_assessed", reason=_why(reason))


def _why(reason: str) -> str:
    if not reason.strip():
        raise ValueError(f"reason must say why, got {reason!r}")
    return reason
