"""The array types the whole program speaks, and the door through which loose numbers become arrays."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
PointArray = NDArray[np.float64]  # (n, 2)
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def frozen_floats(values: ArrayLike, *, n_columns: int | None = None) -> FloatArray:
    """Return a read-only float copy of `values`, (n,) or, with `n_columns`, (n, n_columns).

    >>> frozen_floats([1, 2]).flags.writeable
    False
    """
    array = np.array(values, dtype=np.float64)
    if n_columns is not None:
        array = array.reshape(-1, n_columns)
    array.flags.writeable = False
    return array


def rotation(angle_rad: float) -> FloatArray:
    """Return the (2, 2) matrix R for which `points @ R.T` turns points counter-clockwise by the angle."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([[cos, -sin], [sin, cos]])
