"""The surge at plug-in of a dossier: captures against the parts, the fuse, the discharge."""

from dataclasses import dataclass
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.inrush.captures import Surge, surge_of
from adapterlab.assess.inrush.discharge import Discharge, discharge_findings, discharge_of
from adapterlab.assess.inrush.fuse import Fuse, breaking_findings, fuse_of, wear_finding
from adapterlab.assess.inrush.prediction import (
    SECTION,
    Contact,
    SurgePrediction,
    Sweep,
    by_the_marks,
    surge_prediction,
    sweep,
)
from adapterlab.assess.inrush.varistor import varistor_findings
from adapterlab.assess.model.rectifier import Rectifier, listed, rectifier_of
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Dossier

_FIT_QUESTION = "Do the parts explain the plug-in surge?"
_NEEDED = (
    "a capture of kind 'plug-in' with a current channel that begins before contact, mains voltage "
    "and frequency, and how long the adapter had rested."
)


@dataclass(frozen=True)
class InrushAssessment:
    """What the plug-in captures say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    surges : tuple of Surge
        The captures, those with a cold limiter first.
    rectifier : Rectifier or None
        The parts the surge flows through; None if they are not listed.
    prediction : SurgePrediction or None
        What they predict: of the first surge, or at the crest of 230 V 50 Hz without one.
    sweep : Sweep or None
        What they predict at every angle of contact.
    fuse : Fuse or None
        The fuse and what it stands; None if no melting I²t is listed.
    discharge : Discharge or None
        How the line capacitor runs down; None if its parts are not listed.
    """

    findings: Ledger
    surges: tuple[Surge, ...]
    rectifier: Rectifier | None
    prediction: SurgePrediction | None
    sweep: Sweep | None
    fuse: Fuse | None
    discharge: Discharge | None


# Name of the reading, start of the sentence, question, function, and what else to know.
_ROWS = (
    ("peak", "Peak current", "Do the parts explain the peak of the surge?", "plug_in_surge", ""),
    (
        "time_constant",
        "Time from the peak to 1/e",
        "Do the parts explain how long the surge lasts?",
        "plug_in_surge",
        "",
    ),
    (
        "resistance",
        "Resistance that the surge implies",
        "What resistance does the surge imply?",
        "fit_surge",
        "Of the whole path at contact: limiter, supply, choke, bridge and the bulk capacitor's "
        "own. Usual causes of another value: a limiter warmer than assumed, a long lead, a marking "
        "misread.",
    ),
    (
        "capacitance",
        "Bulk capacitance that the surge implies",
        "What bulk capacitance does the surge imply?",
        "fit_surge",
        "Usual causes of a smaller value: less capacitance in the can than printed on it, an "
        "aged or dried-out part, a capacitor not yet empty. Of a larger one: a second "
        "capacitor not yet found.",
    ),
)


def _against_parts(
    surge: Surge, prediction: SurgePrediction, rectifier: Rectifier
) -> list[Finding]:
    """Peak and time constant as read; resistance and capacitance as implied."""
    return [
        against_prediction(
            getattr(surge, name),
            prediction.figures[name],
            f"{subject} ({surge.label})",
            f"the path of {rectifier.path_label}",
            section=SECTION,
            question=question,
            origin=surge.file,
            figure="inrush_implied" if function == "fit_surge" else "inrush_capture",
            function=f"inrush.{function}",
            note=f"{note} {surge.note}".strip(),
        )
        for name, subject, question, function, note in _ROWS
    ]


def _fact(question: str, sentence: str, function: str, **rest: Any) -> Finding:
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=sentence,
        function=f"inrush.{function}",
        **rest,
    )


def _of_the_capture(surge: Surge) -> list[Finding]:
    """Angle of contact against what was noted, and the temperature of a warm limiter."""
    found = []
    if surge.noted_phase is not None:
        found.append(
            against_prediction(
                surge.phase,
                surge.noted_phase,
                "Angle of contact that the surge implies",
                "the note of the capture",
                section=SECTION,
                question="Did contact come at the angle asked for?",
                origin=surge.file,
                function="inrush.fit_surge",
            )
        )
    warm = surge.limiter_temperature
    if warm is not None:
        found.append(
            _fact(
                "How warm was the limiter?",
                f"The surge ({surge.label}) implies a limiter at {warm}, if its marking holds.",
                "thermistor_temperature",
                reading=warm,
                origin=surge.file,
                note=surge.note,
            )
        )
    return found


def _of_the_parts(rectifier: Rectifier, prediction: SurgePrediction, found: Sweep) -> list[Finding]:
    """Worst angle, chance, and what the limiter takes."""
    worst, chance = found.worst, found.by_chance
    low, high = chance.interval or (0.0, 0.0)
    limiter = listed(rectifier.limiters)
    taken, rise = (prediction.figures[name].value for name in ("limiter_energy", "limiter_rise"))
    warms = f" and warms by {rise}" if rectifier.discs else ""
    cold = " and the limiter cold" if rectifier.discs else ""
    rated = sum(part.rated_energy or 0.0 for part in rectifier.limiters)
    stands = []
    if rated > 0:
        name = f"the data sheet of {limiter}"
        limit = Limit(rated, "J", "upper", name, "adapter.toml, rated_energy", "noted")
        stands = [
            by_the_marks(
                prediction.figures["limiter_energy"],
                limit,
                f"Energy that {limiter} takes, by the marks of the parts,",
                question="Does the limiter stand the surge?",
                origin="adapter.toml, parts",
                function="inrush.plug_in_surge",
            )
        ]
    return [
        *stands,
        _fact(
            "When is the surge worst?",
            f"With the parts as marked{cold} the surge is highest, about {worst.value:.2g} A, with "
            f"contact at {worst.phase:.0f}°. With the angle left to chance and the parts anywhere "
            f"in their tolerances it is {chance.value:.0f} A on average, and 95 of 100 plug-ins "
            f"lie between {low:.0f} A and {high:.0f} A.",
            "worst_phase",
            prediction=chance,
            origin="adapter.toml, parts",
            figure="inrush_phase",
            note="Limiter cold, bulk capacitor empty.",
        ),
        _fact(
            "What does the limiter take?",
            f"Of {prediction.figures['energy']} drawn in the first mains period {limiter} takes "
            f"{taken}{warms}.",
            "plug_in_surge",
            prediction=taken,
            origin="adapter.toml, parts",
            figure="inrush_circuit",
        ),
    ]


def _fuse_findings(specimen: Specimen, surges: list[Surge], fuse: Fuse | None) -> list[Finding]:
    """The largest I²t of a cold and of a warm plug-in against what the fuse stands."""
    found = []
    for limiter, question in (
        ("cold", "Does the surge wear the fuse?"),
        ("warm", "Does a restart with a warm limiter wear the fuse?"),
    ):
        those = [surge for surge in surges if surge.warm == (limiter == "warm")]
        if limiter == "warm" and not those:
            continue
        most = max(those, key=lambda entry: entry.i_squared_t.value, default=None)
        found.append(
            wear_finding(
                specimen,
                fuse,
                most.i_squared_t if most else None,
                f"I²t of the surge ({most.label})" if most else "",
                question=question,
                limiter=limiter,
                needed=_NEEDED,
                origin=most.file if most else "",
            )
        )
    return found


def assess(dossier: Dossier | Specimen) -> InrushAssessment:
    """Plug-in surge of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    InrushAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    rectifier, fuse = _path_of(specimen), fuse_of(specimen)
    discharge = discharge_of(specimen)
    findings: list[Finding] = []
    surges: list[Surge] = []
    for record in specimen.records_of("plug-in"):
        try:
            surges.append(surge_of(specimen, record, rectifier))
        except ValueError as error:
            findings.append(
                Finding(
                    section=SECTION,
                    question=f"What does {record.capture.file} tell?",
                    judgement=rules.not_measured(str(error)),
                    sentence=f"{record.capture.file} is set aside: {error}.",
                    function="inrush.fit_surge",
                    origin=record.capture.file,
                )
            )
    surges.sort(key=lambda surge: surge.warm)
    if rectifier is None:
        needed = "[[parts]] with the roles 'inrush limiter' and 'bulk capacitor', each with value "
        needed += "and tolerance."
        findings.append(not_measured(SECTION, _FIT_QUESTION, needed, "inrush.plug_in_surge"))
    if not surges:
        findings.append(not_measured(SECTION, _FIT_QUESTION, _NEEDED, "inrush.fit_surge"))
    for surge in surges:
        if rectifier is not None and surge.prediction is not None:
            findings += _against_parts(surge, surge.prediction, rectifier)
        findings += _of_the_capture(surge)
    prediction, found = surges[0].prediction if surges else None, None
    if rectifier is not None:
        mains = surges[0].mains_voltage if surges else Value(230.0, 0.0, "V")
        frequency = surges[0].mains_frequency if surges else 50.0
        if prediction is None:
            contact = Contact(mains, frequency, Value(90.0, 0.0, "°"))
            in_use = specimen.allowance("thermistor.temperature_in_use")
            prediction = surge_prediction(rectifier, contact, 1 / frequency, in_use)
        found = sweep(rectifier, mains.value, frequency)
        findings += _of_the_parts(rectifier, prediction, found)
    findings += _fuse_findings(specimen, surges, fuse) + breaking_findings(specimen)
    findings += discharge_findings(specimen, discharge) + varistor_findings(specimen)
    return InrushAssessment(
        Ledger.of(findings), tuple(surges), rectifier, prediction, found, fuse, discharge
    )


def _path_of(specimen: Specimen) -> Rectifier | None:
    """The parts of the surge's path; None without a limiter, for then the path is not known."""
    found = rectifier_of(specimen)
    return found if found is not None and found.limiters else None


def readings(result: InrushAssessment) -> list[dict[str, Any]]:
    """Readings of every surge beside their predictions, as rows of texts.

    Parameters
    ----------
    result : InrushAssessment
        What `assess` returned.

    Returns
    -------
    list of dict
        ``capture``, ``quantity``, ``reading`` and ``the parts predict``.
    """
    names = {
        "phase": "angle of contact",
        "peak": "peak current",
        "time_constant": "time to 1/e",
        "i_squared_t": "I²t",
        "energy": "energy drawn",
        "resistance": "implied resistance",
        "capacitance": "implied capacitance",
    }
    table = []
    for surge in result.surges:
        for field, name in names.items():
            value = getattr(surge, field)
            if value is None:
                continue
            values = surge.prediction.figures if surge.prediction else {}
            row = {"capture": surge.file.rsplit("/", 1)[-1], "quantity": name}
            table.append(
                row | {"reading": str(value), "the parts predict": str(values.get(field, "–"))}
            )
    return table
