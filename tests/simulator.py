"""The independent circuit simulator: ngspice on netlists under tests/netlists/.

A netlist prints its results with ``.meas`` statements. Where ngspice is installed it is run;
elsewhere the results stored beside the netlist (``<name>.json``, written by
``python tests/simulator.py``) stand in for it.
"""

import json
import re
import shutil
import subprocess
from pathlib import Path

from places import NETLISTS

_RESULT = re.compile(r"^([a-z]\w*)\s*=\s*([-+.\deE]+)", re.MULTILINE)


def _run(netlist: Path) -> dict[str, float]:
    output = subprocess.run(
        ["ngspice", "-b", netlist.name],
        cwd=netlist.parent,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    found = {name: float(value) for name, value in _RESULT.findall(output.stdout)}
    if not found:
        raise RuntimeError(f"ngspice gave no results for {netlist.name}:\n{output.stderr[-500:]}")
    return found


def simulate(name: str) -> dict[str, float]:
    """Results of a netlist's ``.meas`` statements, by name."""
    netlist = NETLISTS / f"{name}.cir"
    if shutil.which("ngspice"):
        return _run(netlist)
    return json.loads(netlist.with_suffix(".json").read_text(encoding="utf-8"))


if __name__ == "__main__":
    for file in sorted(NETLISTS.glob("*.cir")):
        results = _run(file)
        file.with_suffix(".json").write_text(json.dumps(results, indent=1) + "\n", "utf-8")
