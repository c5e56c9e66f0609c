"""The array types the whole program speaks, and the door through which loose numbers become arrays."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
PointArray = NDArray[np.float64]  # (n, 2)
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def frozen_floats(values: ArrayLike, *, n_columns: int | None = None) -> FloatArray:
    """Return `values` as a read-only float array, (n,) or, with `n_columns`, (n, n_columns).

    A read-only array that owns its numbers is returned as it is, so that what was derived from it is found again.

    >>> frozen_floats([1, 2]).flags.writeable
    False
    """
    if isinstance(values, np.ndarray) and values.dtype == np.float64 and is_frozen(values, n_columns):
        return values
    array = np.array(values, dtype=np.float64)
    if n_columns is not None and array.shape[1:] != (n_columns,):
        array = array.reshape(-1, n_columns).copy()
    array.flags.writeable = False
    return array


def is_frozen(array: NDArray[np.float64], n_columns: int | None = None) -> bool:
    """Whether nobody can write to the array and it has the shape wanted."""
    fits = array.ndim == 1 if n_columns is None else array.ndim == 2 and array.shape[1] == n_columns
    return fits and array.base is None and not array.flags.writeable


def rotation(angle_rad: float) -> FloatArray:
    """Return the (2, 2) matrix R for which `points @ R.T` turns points counter-clockwise by the angle."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([[cos, -sin], [sin, cos]])
