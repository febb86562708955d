"""How much the modes of an adapter differ in efficiency."""

from collections.abc import Sequence

from adapterlab.assess.model.loadings import Loading
from adapterlab.assess.model.meters import points_apart
from adapterlab.assess.report.finding import Finding

SECTION = "efficiency"


def mode_findings(loadings: Sequence[Loading], several_ports: bool) -> list[Finding]:
    """Spread of the averages across modes with one port loaded, one finding for each mains."""
    found = []
    for mains in dict.fromkeys(loading.mains for loading in loadings):
        alike = [
            (loading.average, loading.name)
            for loading in loadings
            if loading.mains == mains and len(loading.key) == 1 and loading.average is not None
        ]
        if len(alike) < 2:
            continue
        alike.sort(key=lambda item: item[0].value)
        (lowest, _), (highest, _) = alike[0], alike[-1]
        apart = highest - lowest
        listed = ", ".join(f"{name} {average.shown('%')}" for average, name in alike)
        sentence = f"On {mains} the average efficiencies are {listed}: "
        sentence += (
            f"{points_apart(apart.shown('%'))} apart."
            if apart.judgement.called
            else "no further apart than these meters can be sure of."
        )
        note = apart.doubt("%")
        if several_ports:
            note += (
                " The rules ask nothing of them: of an adapter that gives several voltages at "
                "once they load all ports."
            )
        found.append(
            Finding(
                SECTION,
                f"How much do the modes differ on {mains}?",
                apart.judgement,
                sentence,
                "efficiency.efficiency_spread",
                apart.shown("%"),
                origin="load_sweep.csv",
                figure="efficiency_averages",
                note=note,
            )
        )
    return found
