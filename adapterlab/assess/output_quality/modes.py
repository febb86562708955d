"""Whether each USB-C port offers the voltages its power makes one expect."""

from collections.abc import Sequence
from dataclasses import dataclass

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION, LoadedOutput, missing
from adapterlab.assess.report.finding import Finding, Limit, no_limit
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Port
from adapterlab.output_quality import expected_modes
from adapterlab.published import rows

_FUNCTION = "output_quality.expected_modes"
# A label rounds its currents: from this share of the current expected on it is offered.
_ROUNDING = 0.99


@dataclass(frozen=True)
class OfferedMode:
    """One fixed voltage of a port.

    Attributes
    ----------
    voltage : float
        [V]
    expected, offered, measured : float or None
        Current that the port's power makes one expect, that the label offers, and the largest
        that was drawn on the bench; None where there is none. [A]
    """

    voltage: float
    expected: float | None
    offered: float | None
    measured: float | None

    @property
    def is_lacking(self) -> bool:
        """Whether it is expected and not listed with that current."""
        wanted, offered = self.expected or 0.0, self.offered or 0.0
        return offered < _ROUNDING * wanted


@dataclass(frozen=True)
class PortModes:
    """Fixed voltages of a USB-C port by rising voltage, and the most power it offers. [W]."""

    port: str
    power: float
    modes: tuple[OfferedMode, ...]


def _of_port(port: Port, outputs: Sequence[LoadedOutput]) -> PortModes:
    offered = {mode.voltage: mode.current for mode in port.modes if mode.voltage is not None}
    power = max(volts * amperes for volts, amperes in offered.items())
    try:
        published = expected_modes(power)
        expected = dict(zip(published.voltage.tolist(), published.current.tolist(), strict=True))
    except ValueError:
        expected = {}  # beyond the reach of the rules, which the finding says
    read: dict[float, float] = {}
    for item in outputs:
        if item.port == port.name and item.kind == "fixed":
            read[item.asked] = max(read.get(item.asked, 0.0), item.current)
    voltages = sorted({*offered, *expected})
    return PortModes(
        port.name,
        power,
        tuple(OfferedMode(v, expected.get(v), offered.get(v), read.get(v)) for v in voltages),
    )


def modes_of(specimen: Specimen, outputs: Sequence[LoadedOutput]) -> tuple[PortModes, ...]:
    """Fixed voltages of each USB-C port: expected at its power, offered, and measured."""
    return tuple(
        _of_port(port, outputs)
        for port in specimen.adapter.ports
        if port.connector == "USB-C" and any(mode.voltage is not None for mode in port.modes)
    )


def _listed(pairs: Sequence[tuple[float, float | None]]) -> str:
    return ", ".join(f"{volts:g} V {amperes:.3g} A" for volts, amperes in pairs if amperes)


def _finding(port: PortModes) -> Finding:
    question = f"Does {port.port} offer the voltages its power makes one expect?"
    offered = [(mode.voltage, mode.offered) for mode in port.modes]
    wanted = [(mode.voltage, mode.expected) for mode in port.modes if mode.expected]
    if not wanted:
        why = (
            f"{port.port} offers {_listed(offered)}; the rules for fixed voltages up to 20 V do "
            f"not reach {port.power:.3g} W."
        )
        return no_limit(
            SECTION, question, why, _FUNCTION, origin="adapter.toml", figure="output_quality_modes"
        )
    lacking = [mode for mode in port.modes if mode.is_lacking]
    sentence = (
        f"{port.port} offers {_listed(offered)}; of a port with {port.power:.3g} W the power rules "
        f"expect {_listed(wanted)}"
    )
    # What a dossier does not list may still stand on the label: its silence accuses nobody.
    if lacking:
        names = _listed([(mode.voltage, mode.expected) for mode in lacking])
        reason = f"the dossier does not say whether the label lacks {names} or it was not noted"
        judgement = rules.not_judged(reason)
        sentence += f", but {reason}, so no verdict rests on it."
    else:
        judgement = rules.required(True)
        sentence += ": meets."
    unread = [mode for mode in port.modes if mode.offered and mode.measured is None]
    names = ", ".join(f"{mode.voltage:g} V" for mode in unread)
    published = rows(SECTION, "power_rules")[0]
    return Finding(
        section=SECTION,
        question=question,
        judgement=judgement,
        sentence=sentence,
        function=_FUNCTION,
        reading=Value(float(len(wanted) - len(lacking)), 0.0, ""),
        limit=Limit.published(
            published, float(len(wanted)), "", "lower", "IEC 62680-1-2 (modes offered)"
        ),
        origin="adapter.toml",
        figure="output_quality_modes",
        note=f"As the label has it; not loaded on the bench: {names}." if unread else "",
    )


def mode_findings(ports: Sequence[PortModes]) -> list[Finding]:
    """For each USB-C port, whether it offers what its power makes one expect."""
    if not ports:
        needed = "[[ports]] with the connector and the modes of each port."
        question = "Does the port offer the voltages its power makes one expect?"
        return [missing(question, needed, "expected_modes")]
    return [_finding(port) for port in ports]
