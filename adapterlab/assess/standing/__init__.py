"""Where a dossier's adapter stands among its peers of like power."""

from adapterlab.assess.standing.assessment import (
    FEWEST,
    LIKE_POWER,
    QUANTITIES,
    SECTION,
    SMALL,
    Place,
    Quantity,
    StandingAssessment,
    assess,
    figures_of,
    main_loading_at_home,
    spread_of_loads,
)

__all__ = [
    "FEWEST",
    "LIKE_POWER",
    "QUANTITIES",
    "SECTION",
    "SMALL",
    "Place",
    "Quantity",
    "StandingAssessment",
    "assess",
    "figures_of",
    "main_loading_at_home",
    "spread_of_loads",
]
