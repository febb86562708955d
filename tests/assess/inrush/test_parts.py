"""Parts on the path of the surge, as the section joins them."""

import pytest

from adapterlab.assess.inrush import parts as listed
from adapterlab.dossier.schema import Part


@pytest.mark.parametrize(
    ("links", "expected"),
    [
        # Series and parallel joined by hand, capacitances of 10, 20 and 40 uF.
        pytest.param(("", "C1", ""), 20e-6 / 3 + 40e-6, id="one-names-the-other"),
        pytest.param(("C2", "C1", ""), 20e-6 / 3 + 40e-6, id="each-names-the-other"),
        pytest.param(("C2", "C3", "C1"), 40e-6 / 7, id="round-a-circle"),
        pytest.param(("C1", "", ""), 70e-6, id="names-itself"),
    ],
)
def test_capacitors_in_series_count_once(links: tuple[str, ...], expected: float) -> None:
    parts = tuple(
        Part(reference=f"C{number}", kind="capacitor", in_series_with=link)
        for number, link in enumerate(links, start=1)
    )
    found = listed._joined(parts, {"C1": 10e-6, "C2": 20e-6, "C3": 40e-6})
    assert found == pytest.approx(expected)
