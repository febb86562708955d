"""One test session: an adapter as it truly is, its bench, and the tables they give."""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from generator.barrier import Barrier, touch_current
from generator.bench import Bench, Meter, rounded
from generator.mains_side import Front, Limiter, steady_state
from generator.power_stage import Loss, Stage
from generator.writing import TEMPLATES, empty_folder, fill, write_table

AMBIENT = 24.0
_GRID = (0.3, 1.0, 2.5, 5.0, 8.0, 12.0, 17.0, 24.0, 33.0, 45.0, 60.0, 80.0)


@dataclass(frozen=True)
class Output:
    """One loaded port.

    Attributes
    ----------
    port, mode : str
        Names on the nameplate.
    set_voltage, current : float
        [V], [A]
    """

    port: str
    mode: str
    set_voltage: float
    current: float


@dataclass(frozen=True)
class Truth:
    """An adapter as it truly is.

    Attributes
    ----------
    name, seed : str, int
        Folder, and seed of its session.
    rated_power : float
        [W]
    front, limiter, barrier : Front, Limiter, Barrier
        Mains side and barrier.
    stages : dict
        Converters by name.
    losses : dict
        Loss by label: ``port mode`` or the name of a combination, at 230 V.
    no_load : dict
        Power [W] by mains voltage and cable.
    set_error, output_resistance : dict
        Relative set-point error and resistance [ohm] by port.
    ripple : callable
        Peak-to-peak ripple [V] from output, total power of the port's converters, bulk voltage.
    rises : dict
        Temperature rise over loss by place. [K/W]
    """

    name: str
    seed: int
    rated_power: float
    front: Front
    limiter: Limiter
    barrier: Barrier
    stages: dict[str, Stage]
    losses: dict[str, Loss]
    no_load: dict[tuple[float, str], float]
    set_error: dict[str, float]
    output_resistance: dict[str, float]
    ripple: Callable[[Output, Sequence[Output], float], float]
    rises: dict[str, float]


@dataclass
class Session:
    """Everything read on one adapter."""

    truth: Truth
    record: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.truth.seed)
        bench = tomllib.loads((TEMPLATES / "bench.toml").read_text(encoding="utf-8"))
        self.bench = Bench(bench["instruments"], self.rng)
        self.folder = empty_folder(self.truth.name)
        self.rows: list[dict[str, str]] = []
        self.points = 0
        self.temperatures: dict[str, str] = {}
        self._grids: dict[tuple[float, float], dict[str, Any]] = {}
        self.distances: list[list[str]] = []

    def grid(self, voltage: float, frequency: float) -> dict[str, Any]:
        """Rectifier in steady state over a grid of loads, worked out once per mains."""
        key = (voltage, frequency)
        if key not in self._grids:
            most = 1.7 * self.truth.rated_power
            loads = np.array([load for load in _GRID if load <= most])
            self._grids[key] = steady_state(self.truth.front, voltage, frequency, loads)
        return self._grids[key]

    def at_input(self, quantity: str, voltage: float, frequency: float, power: float) -> float:
        """Quantity of the rectifier at an input power, between the grid's loads."""
        grid = self.grid(voltage, frequency)
        return float(np.interp(np.log(power), np.log(grid["input_power"]), grid[quantity]))

    def loss(self, label: str, power: float, voltage: float) -> float:
        """True loss of a mode or combination. [W]."""
        return self.truth.losses[label].for_mains(voltage).at(power)

    def measure(
        self,
        label: str,
        outputs: Sequence[Output],
        voltage: float,
        frequency: float,
        columns: dict[str, float] | None = None,
        warm: bool = False,
    ) -> None:
        """Read one operating point and add its rows.

        Parameters
        ----------
        label : str
            Which loss holds.
        outputs : sequence of Output
            Ports loaded.
        voltage, frequency : float
            Mains. [V], [Hz]
        columns : dict, optional
            Unit of a column over the SI unit, where it is not 1.
        warm : bool
            Whether the adapter stood long enough at this load for a case temperature.
        """
        truth, read, factor = self.truth, self.bench.read, columns or {}
        self.points += 1
        mains = voltage + 0.06 * float(self.rng.standard_normal())
        actual = []
        for output in outputs:
            current = output.current * (1 + 4e-4 * float(self.rng.standard_normal()))
            volts = output.set_voltage * (1 + truth.set_error[output.port])
            volts -= truth.output_resistance[output.port] * current
            actual.append((volts, current))
        power = sum(volts * current for volts, current in actual)
        drawn = power + self.loss(label, power, voltage)
        apparent = drawn / self.at_input("power_factor", voltage, frequency, drawn)
        bulk = self.at_input("mean", voltage, frequency, drawn)
        first = {
            "point": str(self.points),
            "mains_voltage": read("mains voltage", mains),
            "mains_frequency": read("mains frequency", frequency),
            "mains_current": read(
                "mains current", apparent / mains, factor.get("mains_current", 1)
            ),
            "input_power": read("input power", drawn, factor.get("input_power", 1)),
        }
        case = read("temperature", AMBIENT + truth.rises["case top"] * (drawn - power))
        for output, (volts, current) in zip(outputs, actual, strict=True):
            ripple = truth.ripple(output, outputs, bulk)
            self.rows.append(
                first
                | {
                    "port": output.port,
                    "mode": output.mode,
                    "set_voltage": f"{output.set_voltage:g}",
                    "output_voltage": read("output voltage", volts),
                    "output_current": read("output current", current),
                    "ripple_pp": read("ripple", ripple, factor.get("ripple_pp", 1)),
                    "case_temperature": case if warm else "",
                }
            )

    def sweep(
        self,
        label: str,
        outputs: Sequence[Output],
        mains: Sequence[tuple[float, float]],
        fractions: Sequence[float] = (1, 0.75, 0.5, 0.25, 0.1),
        columns: dict[str, float] | None = None,
    ) -> None:
        """Read an operating mode at shares of its rated currents."""
        for voltage, frequency in mains:
            for fraction in fractions:
                loaded = [
                    Output(item.port, item.mode, item.set_voltage, item.current * fraction)
                    for item in outputs
                ]
                self.measure(label, loaded, voltage, frequency, columns, warm=fraction == 1)

    def write_sweep(
        self, headings: dict[str, str], separator: str = ",", comment: str = ""
    ) -> None:
        """Write the rows read so far; `headings` maps each column to how it is spelt."""
        rows = [[row[key] for key in headings] for row in self.rows]
        path = self.folder / "load_sweep.csv"
        write_table(path, list(headings.values()), rows, separator, comment)

    def read_no_load(self, factor: float = 1) -> list[list[str]]:
        """Rows of the table of no-load readings."""
        rows = []
        for (voltage, cable), power in self.truth.no_load.items():
            frequency = 60.0 if voltage < 160 else 50.0
            crest = 12 + 4 * float(self.rng.random())
            factor_of_power = 0.13 + 0.06 * float(self.rng.random())
            rows.append(
                [
                    self.bench.read("mains voltage", voltage),
                    self.bench.read("mains frequency", frequency),
                    self.bench.read("no-load power", power, factor),
                    "300",
                    cable,
                    f"{crest:.1f}",
                    f"{factor_of_power:.2f}",
                ]
            )
        return rows

    def read_touch(
        self, cases: Sequence[tuple[float, float, str, str, str, float, float]]
    ) -> list[list[str]]:
        """Rows of the table of touch currents.

        Parameters
        ----------
        cases : sequence of tuple
            Mains voltage and frequency, polarity, network, quantity, output power, loss.

        Returns
        -------
        list of list of str
            Cells in the order of the table.
        """
        done: dict[Any, Any] = {}
        rows = []
        for voltage, frequency, polarity, network, quantity, power, loss in cases:
            key = (voltage, frequency, polarity, power)
            if key not in done:
                done[key] = touch_current(
                    self.truth.barrier, self.truth.front.bulk_capacitance, voltage, frequency,
                    power + loss, polarity,
                )  # fmt: skip
            value = getattr(done[key], f"{network}_{quantity}")
            rows.append(
                [
                    self.bench.read("mains voltage", voltage),
                    self.bench.read("mains frequency", frequency),
                    polarity,
                    network,
                    "output connector shell",
                    quantity,
                    self.bench.read("touch current", value, 1e6),
                    f"{power:g}",
                ]
            )
        self.record["touch_current"] = {
            f"{voltage:g} V {frequency:g} Hz {polarity} {power:g} W": asdict(item)
            for (voltage, frequency, polarity, power), item in done.items()
        }
        return rows

    def read_temperatures(
        self, label: str, loads: Sequence[tuple[float, int]], case: str = "closed"
    ) -> list[list[str]]:
        """Rows of the table of temperatures: every place at every output power on 230 V."""
        port, mode = label.split(" ", 1) if label.count(" ") > 1 else ("C", label)
        rows = []
        self.record["temperatures"] = {}
        for power, minutes in loads:
            loss = self.loss(label, power, 230.0)
            for place, rise in self.truth.rises.items():
                ambient = AMBIENT + 0.4 * float(self.rng.standard_normal())
                true = ambient + rise * loss
                shown = self.bench.read("temperature", true)
                rows.append(
                    [place, shown, self.bench.read("temperature", ambient), case, f"{power:g}",
                     str(minutes), "230", port, mode]
                )  # fmt: skip
                self.record["temperatures"][f"{place}, {power:g} W"] = true
                self.temperatures.setdefault(place, shown)
        return rows

    def bulk_ripple(self, label: str, power: float, stage_names: Sequence[str], volts: float,
                    shares: Sequence[float], count: int = 1) -> float:  # fmt: skip
        """Ripple current of one of `count` bulk capacitors, mains and switching part. [A]."""
        drawn = power + self.loss(label, power, 230.0)
        square = self.at_input("capacitor_rms", 230.0, 50.0, drawn) ** 2
        for name, share in zip(stage_names, shares, strict=True):
            stage = self.truth.stages[name]
            pulse = stage.pulse(300.0, volts, power * share / volts)
            primary = pulse.peak / stage.turns_ratio
            on = stage.magnetising_inductance * primary / 300.0 * pulse.frequency
            square += primary**2 * on / 3 - (primary * on / 2) ** 2
        return float(np.sqrt(square)) / count

    def write_adapter(self, values: dict[str, str]) -> None:
        """Fill the template of ``adapter.toml`` with what was read.

        Parameters
        ----------
        values : dict
            Texts for slots ``@value(name)@``.
        """
        meter = self.bench.meters["distance"]
        # Distances added later draw from their own source, so that no other number moves.
        later = replace(meter, rng=np.random.default_rng([self.truth.seed, 10]))

        def distance(text: str, gauge: Meter = meter) -> str:
            true = float(text) * 1e-3 + 6e-5 * float(gauge.rng.standard_normal())
            shown = gauge.read(true, 1e3)
            self.record.setdefault("distances", []).append([float(text) * 1e-3, shown + " mm"])
            return f"{float(shown):.2f} mm"

        text = fill(
            self.truth.name,
            {
                "mm": distance,
                "gauge": lambda text: distance(text, later),
                "temperature": lambda place: f"{float(self.temperatures[place]):.0f} C",
                "value": lambda name: values[name],
            },
        )
        (self.folder / "adapter.toml").write_bytes(text.encode())

    def true_values(self) -> dict[str, Any]:
        """The record of what is true, common to all adapters."""
        truth = self.truth
        return {
            "name": truth.name,
            "seed": truth.seed,
            "barrier": asdict(truth.barrier),
            "front": asdict(truth.front),
            "limiter": asdict(truth.limiter),
            "converters": {name: asdict(stage) for name, stage in truth.stages.items()},
            "losses_230_v": {name: asdict(loss) for name, loss in truth.losses.items()},
            "losses_115_v": {
                name: asdict(loss.for_mains(115.0)) for name, loss in truth.losses.items()
            },
            "no_load": {f"{volts:g} V, cable {cable}": power
                        for (volts, cable), power in truth.no_load.items()},
            "set_point_error": truth.set_error,
            "output_resistance": truth.output_resistance,
            "temperature_rise_per_watt": truth.rises,
            "instruments": self.bench.truth(),
            **self.record,
        }  # fmt: skip


def amperes(value: float) -> str:
    """Ripple current as it is noted by hand."""
    return f"{rounded(value, 0.01)} A"
