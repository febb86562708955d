"""A year of use, and two meters at the mains: by hand, and with what a dossier may lack."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapterlab.efficiency import yearly_use

KWH = 3.6e6


def test_a_year_without_load():
    """A year has 8760 h; a watt all year is 8.76 kWh (1 kWh = 3.6 MJ, SI Brochure, table 8)."""
    use = yearly_use([8760 * 3600], [1.0], [0.0])
    assert use.input_energy / KWH == pytest.approx(8.76)
    assert use.lost_energy == use.input_energy
    assert use.cost == use.carbon == 0


@given(
    st.lists(
        st.tuples(st.floats(0, 1e6), st.floats(0, 100), st.floats(0, 1)), min_size=1, max_size=9
    )
)
def test_energy_is_conserved(uses):
    times, drawn, share = (np.array(part) for part in zip(*uses, strict=True))
    use = yearly_use(times, drawn, share * drawn, 2.0, 3.0)
    assert use.input_energy == pytest.approx(use.output_energy + use.lost_energy)
    assert use.cost == pytest.approx(2 * use.input_energy)
    assert use.carbon == pytest.approx(3 * use.input_energy)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([1], [1], [2]), "output_power must not be above input_power"),
        (([1, 2], [1], [1]), "rows of one length"),
        (([400 * 86400], [1], [1]), "must sum to a year at most"),
        (([-1], [1], [1]), "duration must be finite and >= 0"),
        (([1], [1], [1], -1), "energy_price must be finite and >= 0"),
    ],
)
def test_rejections(arguments, message):
    with pytest.raises(ValueError, match=message):
        yearly_use(*arguments)
