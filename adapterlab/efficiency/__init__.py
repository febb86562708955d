"""How much of the mains power reaches the device, and what published rules ask for.

Ratios: `efficiency`, `average_active_efficiency` with `average_efficiency_uncertainty`,
`efficiency_spread`. Losses: `fit_loss_curve`. Limits and how a rule measures stand in
`adapterlab.efficiency_rules` and can be had from here too: `minimum_average_efficiency`,
`minimum_ten_percent_efficiency`, `maximum_no_load_power`; `rule_supply`, `nameplate_category`,
`cable_loss`, `derating_factor`, `permitted_power_uncertainty`. A year of use:
`adapterlab.efficiency_use.yearly_use`.
"""

from adapterlab.efficiency.ratio import (
    EfficiencySpread,
    LossCurve,
    average_active_efficiency,
    average_efficiency_uncertainty,
    efficiency,
    efficiency_spread,
    fit_loss_curve,
)
from adapterlab.efficiency.rules import (
    CATEGORIES,
    RULES,
    Supply,
    cable_loss,
    derating_factor,
    maximum_no_load_power,
    minimum_average_efficiency,
    minimum_ten_percent_efficiency,
    nameplate_category,
    permitted_power_uncertainty,
    rule_supply,
)
from adapterlab.efficiency.use import (
    YearlyUse,
    yearly_use,
)

__all__ = [
    "CATEGORIES",
    "RULES",
    "EfficiencySpread",
    "LossCurve",
    "Supply",
    "YearlyUse",
    "average_active_efficiency",
    "average_efficiency_uncertainty",
    "cable_loss",
    "derating_factor",
    "efficiency",
    "efficiency_spread",
    "fit_loss_curve",
    "maximum_no_load_power",
    "minimum_average_efficiency",
    "minimum_ten_percent_efficiency",
    "nameplate_category",
    "permitted_power_uncertainty",
    "rule_supply",
    "yearly_use",
]
