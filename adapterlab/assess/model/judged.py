"""Which loads the rules judge, and how a rule is called."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from adapterlab.assess.model.points import Key, Point
from adapterlab.dossier.schema import Adapter, Mode, Port
from adapterlab.efficiency import nameplate_category
from adapterlab.published import rows


@dataclass(frozen=True)
class Judged:
    """A loading that a rule judges.

    Attributes
    ----------
    rule, role : str
        The rule, and why it judges this loading, as in ``highest voltage``.
    key : tuple
        What is loaded.
    category : str
        As `adapterlab.efficiency.minimum_average_efficiency` takes it.
    currents, nameplate_currents : dict of str to float
        Current of each port that the rule counts as 100 % for the average, and the nameplate's,
        which holds for the 10 % point. [A]
    power, nameplate_power : float
        The same as powers. [W]
    adaptive : bool
        Whether a voltage follows the device's request.
    """

    rule: str
    role: str
    key: Key
    category: str
    currents: dict[str, float]
    nameplate_currents: dict[str, float]
    power: float
    nameplate_power: float
    adaptive: bool


def rule_row(rule: str) -> dict[str, Any]:
    """Row of a rule in the published table."""
    return rows("efficiency", "rules", rule=rule)[0]


def title(rule: str) -> str:
    """Name of a rule, as said aloud."""
    return str(rule_row(rule)["title"])


def is_adaptive(port: Port) -> bool:
    """Whether a port's voltage follows the device's request."""
    return len(port.modes) > 1


def is_multiple_voltage(adapter: Adapter) -> bool:
    """Whether the ports can give different voltages at the same time."""
    voltages = {mode.voltage for port in adapter.ports for mode in port.modes}
    return len(adapter.ports) > 1 and len(voltages) > 1


def fixed_modes(port: Port) -> list[Mode]:
    """Fixed modes by rising voltage."""
    fixed = [mode for mode in port.modes if mode.voltage is not None]
    return sorted(fixed, key=lambda mode: mode.voltage or 0.0)


def _usb_c(port: Port) -> bool:
    return port.connector.upper().replace(" ", "-").startswith(("USB-C", "USB-TYPE-C"))


def _reference(port: Port, mode: Mode, current: float, rule: str, lowest: bool) -> float:
    """Current that counts as 100 %: less than the nameplate's at a port's lowest voltage."""
    row = rule_row(rule)
    reduced = (
        lowest
        and "reduced_reference_current" in row
        and is_adaptive(port)
        and _usb_c(port)
        and mode is fixed_modes(port)[0]
        and mode.current >= row["reduced_from_current"]
    )
    return min(current, row["reduced_reference_current"]) if reduced else current


def cables_of(adapter: Adapter, rule: str) -> dict[str, tuple[str, float]] | None:
    """Connector and largest current of each port, if the rule puts a cable behind it."""
    if not rows("efficiency", "cables", rule=rule):
        return None
    return {
        port.name: (
            "USB-C" if _usb_c(port) else "other",
            max(mode.current for mode in port.modes),
        )
        for port in adapter.ports
    }


def _single(adapter: Adapter, rule: str, measured: set[Key]) -> list[Judged]:
    port = adapter.ports[0]
    modes = fixed_modes(port)
    if not modes:
        return []
    keys: dict[str, Key] = {mode.name: ((port.name, mode.name, 0.0),) for mode in modes}
    ends = is_adaptive(port) and rule != "eu-2019-1782"
    if ends:
        chosen = [modes[0]] + [mode for mode in modes[-1:] if mode is not modes[0]]
    else:
        chosen = [mode for mode in modes if keys[mode.name] in measured] or modes[:1]
    judged = []
    for mode in chosen:
        lowest = mode is modes[0]
        voltage = mode.voltage or 0.0
        current = _reference(port, mode, mode.current, rule, lowest)
        judged.append(
            Judged(
                rule,
                "lowest voltage" if lowest else "highest voltage" if mode is modes[-1] else "",
                keys[mode.name],
                nameplate_category(voltage, mode.current),
                {port.name: current},
                {port.name: mode.current},
                voltage * current,
                voltage * mode.current,
                is_adaptive(port),
            )
        )
    return judged


def _several(adapter: Adapter, rule: str, measured: set[Key]) -> list[Judged]:
    ports = {port.name: port for port in adapter.ports}
    adaptive = any(is_adaptive(port) for port in adapter.ports)
    found = []
    for combination in adapter.combinations:
        outputs = [
            (out, mode)
            for out in combination.outputs
            if (mode := adapter.mode(out.port, out.mode)) is not None and mode.voltage is not None
        ]
        if len(outputs) == len(combination.outputs):
            found.append((combination, outputs))
    # Power over current is the voltage of a combination as a whole.
    found.sort(key=lambda item: item[0].total_power / sum(out.current for out, _ in item[1]))
    order = list(ports)
    judged = []
    for combination, outputs in found:
        outputs.sort(key=lambda item: order.index(item[0].port))
        key: Key = tuple((out.port, out.mode, 0.0) for out, _ in outputs)
        lowest = combination is found[0][0]
        nameplate = {out.port: out.current for out, _ in outputs}
        currents = {
            out.port: _reference(ports[out.port], mode, out.current, rule, lowest)
            for out, mode in outputs
        }
        less = sum(
            (mode.voltage or 0) * (out.current - currents[out.port]) for out, mode in outputs
        )
        category = (
            "multiple-voltage"
            if is_multiple_voltage(adapter)
            else nameplate_category(outputs[0][1].voltage or 0.0, sum(nameplate.values()))
        )
        role = "lowest voltage" if lowest else "highest voltage"
        power = combination.total_power
        judged.append(
            Judged(rule, role, key, category, currents, nameplate, power - less, power, adaptive)
        )
    if rule == "eu-2019-1782":
        return [item for item in judged if item.key in measured] or judged[-1:]
    return judged[:1] + judged[-1:] if len(judged) > 1 and adaptive else judged[-1:]


def label_gap(adapter: Adapter, rule: str, points: Iterable[Point]) -> str:
    """What the label's list lacks to judge by a rule, as the end of a sentence; empty if nothing.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.
    rule : str
        A name from `adapterlab.efficiency.RULES`.
    points : iterable of Point
        The load sweep, which may have loaded what the list does not have.

    Returns
    -------
    str
        The reason why no verdict by that rule can rest on the list.
    """
    loaded = [(out.port, out.mode) for point in points for out in point.outputs]
    combined = [(out.port, out.mode) for both in adapter.combinations for out in both.outputs]
    for port, mode in dict.fromkeys([*loaded, *combined]):
        if adapter.mode(port, mode) is None:
            return f"{mode!r} of {port} was loaded or combined, but the label's list lacks it"
    by_connector = "reduced_reference_current" in rule_row(rule) or cables_of(adapter, rule)
    for port_listed in adapter.ports:
        if by_connector and not port_listed.connector:
            return f"the connector of {port_listed.name} is not noted"
    return ""


def judged_loadings(adapter: Adapter, rule: str, measured: set[Key]) -> list[Judged]:
    """Loadings that a rule judges.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.
    rule : str
        A name from `adapterlab.efficiency.RULES`.
    measured : set of tuple
        What was loaded on the rule's own mains.

    Returns
    -------
    list of Judged
        EU 2019/1782: every fixed mode measured. The other two: lowest and highest voltage. Of an
        adapter with several ports: its combinations. Empty if the nameplate does not tell.
    """
    if not adapter.ports:
        return []
    return (_single if len(adapter.ports) == 1 else _several)(adapter, rule, measured)
