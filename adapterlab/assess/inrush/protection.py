"""What the listed fuse, line capacitor and varistor have to take."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.inrush.parts import (
    SECTION,
    allowance,
    complete,
    deviation,
    listed,
    marked,
    mean,
    uniform,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.inrush import (
    bleed_loss,
    discharge_time,
    discharge_voltage,
    fuse_melting_range,
    fuse_pulses,
    pulse_fraction,
    varistor_exponent,
    varistor_surge,
)
from adapterlab.published import rows

_FUSE = "inrush.pulse_fraction"


@dataclass(frozen=True)
class Fuse:
    """The fuse and the I²t it stands at every plug-in.

    Attributes
    ----------
    reference : str
        Its reference.
    melting : float
        I²t at which it melts, as its maker states. [A²s]
    limits : dict of str to Limit
        I²t it stands as often as a ``cold`` plug-in and a ``warm`` one come.
    pulses : dict of str to int
        How often that is. [1]
    doubt : str
        Why that melting figure is doubtful; empty if it is not.
    """

    reference: str
    melting: float
    limits: dict[str, Limit]
    pulses: dict[str, int]
    doubt: str


def fuse_of(specimen: Specimen) -> Fuse | None:
    """The first fuse with a listed melting I²t, or None."""
    for part in specimen.adapter.parts_with_role("fuse"):
        if part.melting_i_squared_t is None:
            continue
        limits, pulses = {}, {}
        for habit in rows(SECTION, "plug_ins"):
            number = habit["number"]
            row = rows(SECTION, "fuse_pulses", pulses=number)[0]
            name = f"a fuse maker's chart for {number:,} pulses of {part.reference}"
            allowed = part.melting_i_squared_t * pulse_fraction(number)
            limits[habit["limiter"]] = Limit(
                allowed, "A²s", "upper", name, row["source"], row["known"]
            )
            pulses[habit["limiter"]] = number
        doubt = ""
        if part.value is not None:
            low, high = fuse_melting_range(part.value)
            if not low / 2 <= part.melting_i_squared_t <= high:
                doubt = (
                    f" The listed figure is doubtful: a time-lag fuse of {part.value:g} A melts "
                    f"between {low:.2g} A²s and {high:.2g} A²s."
                )
        return Fuse(part.reference, part.melting_i_squared_t, limits, pulses, doubt)
    return None


def times_stood(fuse: Fuse, heat: float) -> str:
    """How often the chart lets a fuse take an I²t, in words."""
    try:
        number = fuse_pulses(heat, fuse.melting)
    except ValueError:
        return f"fewer than {rows(SECTION, 'fuse_pulses')[0]['pulses']} times"
    last = rows(SECTION, "fuse_pulses")[-1]["pulses"]
    if number >= last * 0.999:
        return f"at least {last:,} times, where the chart ends"
    return f"some {float(f'{number:.1g}'):,.0f} times"


def fuse_finding(fuse: Fuse | None, heat: Value | None, subject: str, **rest: Any) -> Finding:
    """An I²t against what the fuse stands; `rest` holds question, limiter, origin, needed."""
    question, limiter = rest.pop("question"), rest.pop("limiter")
    needed = rest.pop("needed")
    if fuse is None or heat is None:
        if fuse is None:
            needed = "[[parts]] with the role 'fuse' and its melting_i_squared_t."
        return not_measured(SECTION, question, needed, _FUSE)
    return against_limit(
        heat,
        fuse.limits[limiter],
        subject,
        section=SECTION,
        question=question,
        figure="inrush_fuse",
        function=_FUSE,
        note=f"{fuse.reference} melts at {Value(fuse.melting, 0.0, 'A²s')} by its listed figure, "
        "which is a nominal one; the chart is one maker's, for pulses 10 s apart at room "
        f"temperature, and makers differ. By it this surge may come "
        f"{times_stood(fuse, heat.value)}.{fuse.doubt}",
        **rest,
    )


@dataclass(frozen=True)
class Discharge:
    """How the line capacitor runs down after the plug is pulled, at worst from the crest.

    Attributes
    ----------
    capacitance, resistance : Value
        Of the line capacitors together and of the discharge resistors in series. [F], [ohm]
    start_voltage : float
        Crest of the highest mains voltage on the label, a tenth over it. [V]
    level : float
        Voltage that counts as run down in the picture. [V]
    time : Value
        Time to that level. [s]
    after : tuple of Value
        Voltage after 1 s and after 2 s. [V]
    loss : Value
        Power the resistors burn at 230 V. [W]
    """

    capacitance: Value
    resistance: Value
    start_voltage: float
    level: float
    time: Value
    after: tuple[Value, Value]
    loss: Value


def _total(parts: list[Part], unit: str) -> Value:
    total = sum(part.value or 0.0 for part in parts)
    return Value(total, float(np.hypot.reduce([deviation(marked(p)) for p in parts])), unit)


def discharge_of(specimen: Specimen) -> Discharge | None:
    """Discharge of the line capacitor by the marks of the parts, or None."""
    capacitors = specimen.adapter.parts_with_role("line capacitor")
    resistors = specimen.adapter.parts_with_role("discharge resistor")
    if not complete(capacitors) or not complete(resistors):
        return None
    bulk, series = _total(capacitors, "F"), _total(resistors, "Ω")
    relative = float(
        np.hypot(bulk.standard_uncertainty / bulk.value, series.standard_uncertainty / series.value)
    )
    start = np.sqrt(2) * 1.1 * (specimen.adapter.nameplate.input_voltage_maximum or 240.0)
    level = rows(SECTION, "touch_voltage")[0]["voltage"]
    time = discharge_time(bulk.value, series.value, start, level)
    constant = bulk.value * series.value
    after = [
        Value(volts, volts * moment / constant * relative, "V")
        for moment in (1.0, 2.0)
        for volts in [discharge_voltage(moment, bulk.value, series.value, start)]
    ]
    loss = bleed_loss(230.0, series.value)
    spread = loss * series.standard_uncertainty / series.value
    return Discharge(
        bulk,
        series,
        float(start),
        level,
        Value(time, time * relative, "s"),
        (after[0], after[1]),
        Value(loss, spread, "W"),
    )


def discharge_findings(specimen: Specimen, found: Discharge | None) -> list[Finding]:
    """Time constant against its limit, and what is left on the pins after 1 s and 2 s."""
    question = "Does the line capacitor run down when the plug is pulled?"
    if found is None:
        needed = (
            "[[parts]] with the roles 'line capacitor' and 'discharge resistor', each with value "
            "and tolerance; some controllers do this job without a resistor."
        )
        return [not_measured(SECTION, question, needed, "inrush.discharge_time")]
    capacitors = listed(specimen.adapter.parts_with_role("line capacitor"))
    resistors = listed(specimen.adapter.parts_with_role("discharge resistor"))
    bulk, series = found.capacitance, found.resistance
    relative = found.time.standard_uncertainty / found.time.value
    product = bulk.value * series.value
    constant = Value(product, product * relative, "s")
    row = rows(SECTION, "discharge")[0]
    subject = f"Time constant of {capacitors} with {resistors}, by their marks,"
    note = "Several discharge resistors are taken in series, the slower case."
    common: dict[str, Any] = {
        "section": SECTION,
        "origin": "adapter.toml, parts",
        "figure": "inrush_discharge",
    }
    if bulk.value <= row["capacitance_above"]:
        first = Finding(
            question=question,
            judgement=rules.result(),
            sentence=f"{subject} is {constant}; {row['standard']} asks for a discharge only above "
            f"{Value(row['capacitance_above'], 0.0, 'F')}.",
            reading=constant,
            note=note,
            function="inrush.discharge_time",
            **common,
        )
    else:
        name = f"{row['standard']}, pluggable type A"
        limit = Limit(row["time_constant"], "s", "upper", name, row["source"], row["known"])
        first = against_limit(
            constant,
            limit,
            subject,
            question=question,
            note=f"{note} {row['condition']}.",
            function="inrush.discharge_time",
            **common,
        )
    second = Finding(
        question="What is left on the pins?",
        judgement=rules.result(),
        sentence=f"Pulled at a crest of {found.start_voltage:.0f} V, {capacitors} holds "
        f"{_left(found.after[0])} after 1 s and {_left(found.after[1])} after 2 s, and is below "
        f"{found.level:.0f} V after {found.time}; the price is {found.loss} in {resistors} all the "
        "time at 230 V.",
        reading=found.after[0],
        note="By the marks of the parts; a probe across the pins hurries the discharge and shows "
        "less than there would be without it. Below that voltage is no promise that it can be "
        "touched: other parts may hold more.",
        function="inrush.discharge_voltage",
        **common,
    )
    return [first, second]


def _left(volts: Value) -> str:
    return str(volts) if volts.value >= 1 else "less than 1 V"


def varistor_findings(specimen: Specimen) -> list[Finding]:
    """What a varistor lets through and takes in a surge of 1 kV and of 2 kV."""
    question = "What does the varistor do with a surge on the mains?"
    parts = [p for p in specimen.adapter.parts_with_role("surge absorber") if p.value]
    if not parts:
        needed = "[[parts]] with the role 'surge absorber' and its marked voltage as value."
        return [not_measured(SECTION, question, needed, "inrush.varistor_surge")]
    part = parts[0]
    middle, tolerance = part.value or 0.0, part.tolerance or 0.1
    steep = allowance("varistor exponent")
    listed_point = part.clamping_voltage and part.clamping_current
    if listed_point and (part.clamping_voltage or 0) > middle:
        point = varistor_exponent(part.clamping_voltage or 0, part.clamping_current or 0, middle)
        steep = uniform(0.9 * point, 1.1 * point)
    sentences, reading = [], None
    for volts in (1000.0, 2000.0):
        best = varistor_surge(volts, middle, mean(steep))
        span = varistor_surge(
            volts,
            middle * np.array([[1 - tolerance], [1 + tolerance]]),
            mean(steep) + np.sqrt(3) * deviation(steep) * np.array([-1.0, 1.0]),
        )
        held = Value(best.voltage, float(np.ptp(span.voltage)) / 4, "V")
        taken = Value(best.energy, float(np.ptp(span.energy)) / 4, "J")
        reading = reading or taken
        sentences.append(
            f"a surge of {volts / 1000:.0f} kV to {held}, carries {best.current:.0f} A and takes "
            f"{taken}"
        )
    common: dict[str, Any] = {
        "section": SECTION,
        "question": question,
        "origin": "adapter.toml, parts",
        "function": "inrush.varistor_surge",
        "note": "A combination-wave generator of 2 Ω straight at the plug; fuse, choke and the "
        "wires in between make it milder. "
        + ("" if listed_point else "No clamping point is listed; a usual steepness is taken."),
    }
    text = f"{part.reference} holds {sentences[0]}; {sentences[1]}"
    finding = Finding(judgement=rules.result(), sentence=f"{text}.", reading=reading, **common)
    if part.rated_energy is None or reading is None:
        return [finding]
    limit = Limit(
        part.rated_energy, "J", "upper", f"the data sheet of {part.reference}",
        "adapter.toml, rated_energy", "noted",
    )  # fmt: skip
    return [
        finding,
        against_limit(
            reading,
            limit,
            f"Energy of a 1 kV surge in {part.reference}, by its marks,",
            **(common | {"question": "Does the varistor stand a surge of 1 kV?"}),
        ),
    ]
