"""Sparse: the one way symmetric positive definite systems are factorised here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import numpy as np
    from scipy.sparse.linalg import SuperLU

# Least fill on symmetric meshes of all that SuperLU offers; its default orders for unsymmetric matrices and takes
# several times as long. Symmetric mode without pivoting: the matrix is positive definite.
ORDERING: Final = "MMD_AT_PLUS_A"


def factorised(matrix: Any) -> SuperLU[np.float64]:
    """Return the factors of a symmetric positive definite sparse matrix in compressed columns."""
    from scipy.sparse.linalg import splu

    factors: SuperLU[np.float64] = splu(
        matrix, permc_spec=ORDERING, diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    return factors
