"""Which port the converters can serve: the label's combinations against their ratings."""

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value
from adapterlab.flyback import port_allocation
from adapterlab.judgement import agrees

SECTION = "flyback"


@dataclass(frozen=True)
class Served:
    """A combination of outputs on the label, and what the converters' ratings say of it.

    Attributes
    ----------
    claim : str
        Such as ``20 V 2 A at C1 with 9 V 2.22 A at C2``.
    possible : bool
        Whether every output gets what it asks for.
    power : pandas.DataFrame
        Converters down, ports across. [W]
    short : float
        What is lacking in all. [W]
    """

    claim: str
    possible: bool
    power: pd.DataFrame
    short: float


def served_by(specimen: Specimen) -> list[Served]:
    """Every combination of the label against the ratings of the converters."""
    adapter = specimen.adapter
    converters = adapter.construction.converters
    found: list[Served] = []
    for combination in adapter.combinations:
        modes = [adapter.mode(out.port, out.mode) for out in combination.outputs]
        volts = [mode.voltage if mode else None for mode in modes]
        if not converters or any(value is None for value in volts):
            continue
        ports = [out.port for out in combination.outputs]
        amperes = [out.current for out in combination.outputs]
        best = port_allocation(
            [converter.rated_power for converter in converters],
            [float(value or 0.0) for value in volts],
            amperes,
            [[not c.ports or port in c.ports for port in ports] for c in converters],
        )
        claim = " with ".join(
            f"{value:g} V {current:g} A at {port}"
            for value, current, port in zip(volts, amperes, ports, strict=True)
        )
        table = pd.DataFrame(best.power, index=[c.name for c in converters], columns=ports)
        found.append(Served(claim, best.possible, table, float(best.short.sum())))
    return found


def port_findings(served: Sequence[Served]) -> list[Finding]:
    """One finding for each combination."""
    found = []
    for case in served:
        ways = [
            f"{name} gives {watts:.3g} W to {port}"
            for name, row in case.power.iterrows()
            for port, watts in row.items()
            if watts > 0.05
        ]
        how = ", ".join(ways) if ways else "no converter reaches these ports"
        given = float(case.power.to_numpy().sum())
        judged, verdict = agrees(case.possible), "the ratings of the converters allow it"
        if not case.possible:
            verdict = (
                f"unless a converter is not listed, their ratings leave {case.short:.3g} W short"
            )
        found.append(
            Finding(
                section=SECTION,
                question=f"Can the converters serve {case.claim}?",
                judgement=judged,
                sentence=f"The label promises {case.claim}: {verdict} ({how}): {judged.word}.",
                function="flyback.port_allocation",
                reading=Value(given + case.short, 0.0, "W"),
                prediction=Value(given, 0.0, "W"),
                origin="combinations",
            )
        )
    return found
