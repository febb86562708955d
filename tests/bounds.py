"""What every guard must do: take a value on its bound, refuse one beyond, alone and among good ones."""

import dataclasses

import numpy as np
import pytest


def numbers(result):
    """All numbers in a result, whether plain, an array or a record of them."""
    if dataclasses.is_dataclass(result):
        fields = [getattr(result, field.name) for field in dataclasses.fields(result)]
        return np.concatenate([numbers(field) for field in fields])
    values = np.ravel(np.asarray(result))
    return values.astype(float) if values.dtype.kind in "biuf" else np.zeros(0)


def hold(function, rest, name, good, bad):
    """`function` takes `good` for `name`, and refuses `bad` by that name, wherever it stands."""
    assert np.isfinite(numbers(function(**rest, **{name: good}))).all()
    for wrong in (bad, [good, bad], [bad, good]):
        with pytest.raises(ValueError, match=name):
            function(**rest, **{name: wrong})
