"""What the three adapters with one port have in common."""

from collections.abc import Sequence

from generator.power_stage import Stage, peak_to_peak
from generator.session import Output, Session
from generator.writing import write_table

MAINS = ((230.0, 50.0), (115.0, 60.0))
FLOOR = 3e-3
NO_LOAD = ("mains_voltage_v", "mains_frequency_hz", "power_w", "averaging_time_s", "cable",
           "crest_factor", "power_factor")  # fmt: skip
TOUCH = ("mains_voltage_v", "mains_frequency_hz", "polarity", "network", "touched_part",
         "quantity", "touch_current_ua", "output_power_w")  # fmt: skip
TEMPERATURES = ("place", "temperature_c", "ambient_c", "case", "output_power_w",
                "time_at_load_min", "mains_voltage_v", "port", "mode")  # fmt: skip


def ripple_of(stage: Stage, output_filter: tuple[float, float], rated_power: float):  # noqa: ANN201
    """Ripple of one converter with one output; the result is what `Truth.ripple` wants."""

    def ripple(output: Output, outputs: Sequence[Output], bulk: float) -> float:
        slow = 4e-3 * output.set_voltage * output.current / rated_power
        pulse = stage.pulse(bulk, output.set_voltage, output.current)
        return FLOOR + slow + peak_to_peak([pulse], *output_filter)

    return ripple


def sweep_modes(
    session: Session,
    modes: dict[str, float],
    mains: Sequence[tuple[float, float]],
    reference: bool,
    columns: dict[str, float],
) -> None:
    """Sweep every fixed mode; at 5 V also at shares of 2 A."""
    for mode, current in modes.items():
        output = Output("C", mode, float(mode.split()[0]), current)
        session.sweep(mode, [output], mains, columns=columns)
    if reference:
        session.sweep("5 V", [Output("C", "5 V", 5.0, 2.0)], mains, (1, 0.5, 0.25), columns)


def headings(**changed: str) -> dict[str, str]:
    """Spelling of the columns of a load sweep."""
    plain = {
        "point": "point",
        "mains_voltage": "mains_voltage_v",
        "mains_frequency": "mains_frequency_hz",
        "mains_current": "mains_current_a",
        "input_power": "input_power_w",
        "port": "port",
        "mode": "mode",
        "set_voltage": "set_voltage_v",
        "output_voltage": "output_voltage_v",
        "output_current": "output_current_a",
        "ripple_pp": "ripple_pp_mv",
        "case_temperature": "case_temperature_c",
    }
    return {key: changed.get(key, name) for key, name in plain.items()}


def table(
    session: Session,
    name: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    separator: str = ",",
    **changed: str,
) -> None:
    """Write one of the smaller tables; `changed` maps a heading to another spelling."""
    write_table(
        session.folder / f"{name}.csv",
        [changed.get(column, column) for column in columns],
        rows,
        separator,
    )
