"""A blank dossier with its bench plan, for the nameplate it is given."""

import csv
import html
import io
import json
import re
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from adapterlab.assess.bench_plan import BenchPlanAssessment, assess
from adapterlab.assess.bench_plan.points import PlannedPoint
from adapterlab.dossier import Dossier, DossierError, read_dossier
from adapterlab.dossier.tables import TABLES, headings
from adapterlab.kit.folder import OutputError
from adapterlab.kit.pages import document

_HINTS = Path(__file__).parent / "template" / "dossier_hints.toml"
_SUPPLIES = ((230.0, 50.0), (115.0, 60.0))
_PORT = re.compile(r"(?P<name>[^:]+?)(?:\s+(?P<connector>USB-\S+|lead))?\s*:\s*(?P<modes>.+)")
_NUMBER = r"\d+(?:\.\d+)?"
_MODE = re.compile(
    rf"(?P<low>{_NUMBER})(?:\s*-\s*(?P<high>{_NUMBER}))?\s*V\s+(?P<current>{_NUMBER})\s*A"
)
_SHARE = re.compile(rf"(?P<port>\S+)\s+(?P<mode>{_NUMBER}\s*V)\s+(?P<current>{_NUMBER})\s*A")
_CAUTIONS = (
    "Mains voltage kills. The load sweep is done with the case closed.",
    "With the case open: work unplugged, let the bulk capacitor discharge and prove it with a "
    "meter before you touch anything. Nobody works alone.",
    "Where something must be measured live with the case open, that is work for people trained "
    "and equipped for it: isolated supply, differential probes, one hand, no touching.",
    "An oscilloscope's ground clip on the mains side makes a short circuit through the earth.",
    "Local codes and licensed practice come before this sheet.",
)


def port_text(spec: str) -> str:
    """TOML of one port from how it is written on a command line.

    Parameters
    ----------
    spec : str
        Such as ``C1: 5 V 3 A, 9 V 3 A, 3.3-11 V 3 A``; ``USB-A`` or another connector may follow
        the name.

    Returns
    -------
    str
        A ``[[ports]]`` table.

    Raises
    ------
    ValueError
        If it can't be read.
    """
    match = _PORT.fullmatch(spec.strip())
    if match is None:
        raise ValueError(f"port {spec!r}: write it like 'C1: 5 V 3 A, 9 V 3 A, 3.3-11 V 3 A'")
    modes: list[str] = []
    for text in match["modes"].split(","):
        mode = _MODE.fullmatch(text.strip())
        if mode is None:
            raise ValueError(f"port {match['name']}: {text.strip()!r} is no mode like '9 V 3 A'")
        low, high, current = mode["low"], mode["high"], mode["current"]
        if high:
            several = sum("adjustable" in other for other in modes)
            name = "adjustable" if not several else f"adjustable to {high} V"
            modes.append(
                f'{{ name = "{name}", kind = "adjustable", minimum_voltage = "{low} V", '
                f'maximum_voltage = "{high} V", current = "{current} A" }}'
            )
        else:
            modes.append(f'{{ name = "{low} V", voltage = "{low} V", current = "{current} A" }}')
    lines = "".join(f"    {mode},\n" for mode in modes)
    return (
        f"[[ports]]\nname = {json.dumps(match['name'])}\n"
        f"connector = {json.dumps(match['connector'] or 'USB-C')}\nmodes = [\n{lines}]\n"
    )


def combination_text(spec: str) -> str:
    """TOML of ports loaded together from how it is written on a command line.

    Parameters
    ----------
    spec : str
        Such as ``C1 20 V 2 A, C2 9 V 2.22 A``.

    Returns
    -------
    str
        A ``[[combinations]]`` table.

    Raises
    ------
    ValueError
        If it can't be read.
    """
    outputs, total = [], 0.0
    for text in spec.split(","):
        share = _SHARE.fullmatch(text.strip())
        if share is None:
            raise ValueError(f"together {text.strip()!r}: write it like 'C1 20 V 2 A, C2 9 V 2 A'")
        volts = float(re.sub(r"\s*V", "", share["mode"]))
        total += volts * float(share["current"])
        outputs.append(
            f'    {{ port = {json.dumps(share["port"])}, mode = "{volts:g} V", '
            f'current = "{share["current"]} A" }},\n'
        )
    return f'[[combinations]]\ntotal_power = "{total:.4g} W"\noutputs = [\n{"".join(outputs)}]\n'


def nameplate_text(
    name: str, power: str, mains: str, ports: Sequence[str], together: Sequence[str]
) -> str:
    """The beginning of ``adapter.toml`` from options of the command line.

    Parameters
    ----------
    name, power : str
        As on the label, the power with its unit.
    mains : str
        Range of the mains voltage, such as ``100-240 V``.
    ports, together : sequence of str
        As `port_text` and `combination_text` read them.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    ValueError
        If anything can't be read.
    """
    span = re.fullmatch(rf"({_NUMBER})\s*(?:-\s*({_NUMBER})\s*)?V?", mains.strip())
    if span is None:
        raise ValueError(f"mains {mains!r}: write it like '100-240 V'")
    low, high = span[1], span[2] or span[1]
    parts = [
        "# What the label says.\n[nameplate]\n"
        f"name = {json.dumps(name, ensure_ascii=False)}\nrated_power = {json.dumps(power)}\n"
        f'input_voltage_minimum = "{low} V"\ninput_voltage_maximum = "{high} V"\n'
    ]
    parts += [port_text(port) for port in ports]
    parts += [combination_text(spec) for spec in together]
    return "\n".join(parts)


def _write(path: Path, table: str, rows: Sequence[dict[str, str]]) -> None:
    columns = headings(TABLES[table])
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8")


def _sweep_rows(points: Sequence[PlannedPoint]) -> list[dict[str, str]]:
    found = []
    for point in points:
        for port, mode, asked in point.key:
            volts = asked or point.voltages[port]
            found.append(
                {
                    "point": str(point.number),
                    "mains_voltage_v": f"{point.mains_voltage:g}",
                    "mains_frequency_hz": f"{point.mains_frequency:g}",
                    "port": port,
                    "mode": mode,
                    "set_voltage_v": f"{volts:g}",
                    "set_current_a": f"{point.currents[port]:.3f}",
                }
            )
    return found


def _supplies(dossier: Dossier) -> list[tuple[float, float]]:
    plate = dossier.adapter.nameplate
    low, high = plate.input_voltage_minimum or 0.0, plate.input_voltage_maximum or 1e3
    return [mains for mains in _SUPPLIES if low <= mains[0] <= high]


def _write_tables(folder: Path, dossier: Dossier, plan: BenchPlanAssessment) -> None:
    supplies = [
        {"mains_voltage_v": f"{volts:g}", "mains_frequency_hz": f"{hertz:g}"}
        for volts, hertz in _supplies(dossier)
    ]
    _write(folder / "load_sweep.csv", "load_sweep", _sweep_rows(plan.points))
    _write(
        folder / "no_load.csv",
        "no_load",
        [mains | {"cable": cable} for mains in supplies for cable in ("none", "plugged")],
    )
    _write(
        folder / "touch_current.csv",
        "touch_current",
        [
            mains | {"polarity": side, "network": "weighted", "quantity": quantity,
                     "touched_part": "output connector shell", "output_power_w": "0"}
            for mains in supplies[:1]
            for side in ("a", "b")
            for quantity in ("rms", "peak")
        ],
    )  # fmt: skip
    power = f"{dossier.adapter.nameplate.rated_power:g}"
    places = ("case, hottest spot", "bulk capacitor", "auxiliary capacitor", "output capacitor")
    _write(
        folder / "temperatures.csv",
        "temperatures",
        [{"place": place, "case": "closed", "output_power_w": power} for place in places],
    )


def _unbroken(text: str) -> str:
    """Escaped text whose units stay with their numbers."""
    return re.sub(r"(?<=\d) (?=[A-Za-z%])", "&nbsp;", html.escape(text))


def _html_table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f"<th>{html.escape(column)}</th>" for column in columns)
    body = "".join(
        "<tr>" + "".join(f"<td>{_unbroken(cell)}</td>" for cell in row) + "</tr>\n" for row in rows
    )
    return f'<div class="table"><table>\n<tr>{head}</tr>\n{body}</table></div>'


def bench_sheet(dossier: Dossier, plan: BenchPlanAssessment) -> str:
    """A sheet to print and write on.

    Parameters
    ----------
    dossier : Dossier
        The blank dossier.
    plan : BenchPlanAssessment
        Its plan.

    Returns
    -------
    str
        A whole HTML document.
    """
    box = "______"
    cautions = "".join(f"<li>{html.escape(text)}</li>" for text in _CAUTIONS)
    conditions = "".join(f"<li>{html.escape(text)}.</li>" for text in plan.conditions)
    needs = [
        [
            row.quantity,
            f"{row.least:.3g} to {row.most:.3g} {row.unit}",
            f"{100 * row.accuracy:.2g} % of the reading",
            f"{row.resolution:.1g} {row.unit}",
        ]
        for row in plan.needs().itertuples()
    ]
    columns = ["no.", "set", "expect", "input W", "output V", "output A", "ripple mV", "for"]
    loads = []
    for (mains, loading), rows in plan.table.groupby(["mains", "loading"], sort=False):
        points = []
        for row in rows.itertuples():
            expected = f"{row.input_power:.3g} W, {1000 * row.input_current:.0f} mA"
            points.append([str(row.number), row.set, expected, *[box] * 4, row.purposes])
        loads.append(f"<h3>{html.escape(f'{loading} on {mains}')}</h3>")
        loads.append(_html_table(columns, points))
    said = "".join(
        f"<li>{html.escape(finding.sentence)}</li>"
        for finding in plan.findings
        if finding.figure in ("bench_plan_difference", "bench_plan_budget")
    )
    body = [
        f"<h1>Bench sheet: {html.escape(dossier.name)}</h1>",
        f"<h2>Before anything else</h2><ul>{cautions}</ul>",
        f"<h2>How the session runs</h2><ul>{conditions}</ul>",
        "<h2>What the meters must do</h2><p>For an efficiency known to half a percentage point "
        "(95 %) at the least load:</p>",
        _html_table(["quantity", "readings expected", "limit of error", "display step"], needs),
        f"<ul>{said}</ul>" if said else "",
        "<h2>Load points, in this order</h2><p>Type what you read into load_sweep.csv, on the row "
        "with the same number.</p>",
        *loads,
        "<h2>Then</h2><ul><li>Without load: no_load.csv, after five minutes of averaging.</li>"
        "<li>Touch current: touch_current.csv, both ways of plugging in, by someone who knows the "
        "measuring network and its isolation.</li>"
        "<li>Temperatures at full load after an hour: temperatures.csv, case closed.</li></ul>",
    ]  # fmt: skip
    return document(f"Bench sheet: {dossier.name}", "\n".join(body))


def write_dossier(target: Path, nameplate: str) -> BenchPlanAssessment:
    """Write a blank dossier with its bench plan.

    Parameters
    ----------
    target : pathlib.Path
        New folder, or an empty one.
    nameplate : str
        TOML with ``[nameplate]``, ``[[ports]]`` and whatever else of ``adapter.toml`` is known.

    Returns
    -------
    BenchPlanAssessment
        The plan.

    Raises
    ------
    OutputError
        If the folder is not empty or can't be written.
    DossierError
        If the nameplate has errors.
    ValueError
        If it lists no port, so that nothing can be planned.
    """
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise OutputError(f"{target} is not an empty folder; nothing was written")
    parent = target.resolve().parent
    if not parent.is_dir():
        raise OutputError(f"{parent} does not exist; make it first or choose another folder")
    try:
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=parent))
    except OSError as error:
        raise OutputError(f"can't write beside {parent}: {error.strerror}") from None
    try:
        draft.chmod(0o755)
        text = nameplate.rstrip() + "\n" + _HINTS.read_text(encoding="utf-8")
        (draft / "adapter.toml").write_text(text, encoding="utf-8")
        try:
            dossier = read_dossier(draft)
        except DossierError as error:
            raise DossierError("the nameplate", error.problems) from None
        plan = assess(dossier)
        if not plan.points:
            raise ValueError("the nameplate lists no port, so nothing can be planned")
        _write_tables(draft, dossier, plan)
        for name in ("captures", "photos"):
            (draft / name).mkdir()
        (draft / "bench_sheet.html").write_text(bench_sheet(dossier, plan), encoding="utf-8")
        if target.exists():
            target.rmdir()
        draft.rename(target)
    finally:
        if draft.exists():
            shutil.rmtree(draft, ignore_errors=True)
    return plan
