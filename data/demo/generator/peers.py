"""An invented group of adapters to compare with: ``peers.csv``."""

import numpy as np

from generator.bench import rounded
from generator.writing import DEMO, write_table

SEED = 2024
# Rated powers, how many, typical average efficiency, mass over power [g/W].
CLASSES = (
    ((12.0, 15.0, 18.0, 20.0), 18, 0.862, 3.2),
    ((25.0, 27.0, 30.0, 33.0), 18, 0.880, 2.9),
    ((40.0, 45.0), 12, 0.893, 2.7),
    ((60.0, 65.0, 66.0, 67.0), 24, 0.908, 2.6),
)
COLUMNS = ("name", "rated_power_w", "average_efficiency", "ten_percent_efficiency",
           "efficiency_spread", "no_load_power_w", "ripple_pp_mv", "touch_current_ua", "mass_g",
           "price")  # fmt: skip


def generate() -> int:
    """Write the peer group; returns how many adapters it has."""
    rng = np.random.default_rng(SEED)
    rows = []
    for powers, count, efficiency, mass in CLASSES:
        for _ in range(count):
            power = float(rng.choice(powers))
            quality = float(rng.standard_normal())
            average = efficiency + 0.011 * quality + 0.005 * rng.standard_normal()
            low = average - 0.10 * np.exp(-0.3 * quality + 0.25 * rng.standard_normal())
            spread = 0.022 * np.exp(-0.25 * quality + 0.35 * rng.standard_normal())
            no_load = 0.06 * np.exp(-0.35 * quality + 0.35 * rng.standard_normal())
            no_load *= (power / 30) ** 0.3
            ripple = 70 * np.exp(-0.25 * quality + 0.3 * rng.standard_normal())
            barrier = float(rng.choice([0.47, 1.0, 1.0, 1.5, 2.2])) * rng.uniform(0.85, 1.15)
            touch = 51.0 * barrier * rng.uniform(0.97, 1.1)
            weight = mass * power**0.95 * rng.uniform(0.85, 1.2)
            price = (4 + 0.5 * power) * np.exp(0.12 * quality + 0.2 * rng.standard_normal())
            rows.append(
                [
                    f"peer-{len(rows) + 1:02d}",
                    f"{power:g}",
                    rounded(float(average), 0.001),
                    rounded(float(low), 0.001),
                    rounded(float(spread), 0.001),
                    rounded(float(no_load), 0.001),
                    rounded(float(ripple), 1.0),
                    rounded(float(touch), 1.0),
                    rounded(float(weight), 1.0),
                    rounded(float(price), 0.1) + "0",
                ]
            )
    write_table(DEMO / "peers.csv", COLUMNS, rows)
    return len(rows)
