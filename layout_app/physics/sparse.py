"""Sparse: the one way symmetric positive definite systems are factorised here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse.linalg import SuperLU

# Least fill on symmetric meshes of all that SuperLU offers; its default orders for unsymmetric matrices and takes
# several times as long. Symmetric mode without pivoting: the matrix is positive definite.
ORDERING: Final = "MMD_AT_PLUS_A"
AS_GIVEN: Final = "NATURAL"
RELAX = 1  # columns joined beforehand: joining none halves the time of networks, for meshes it changes nothing
PANEL = 1  # columns worked on at once: with rows as short as a mesh's, a third quicker than SuperLU's own choice


def factorised(matrix: Any) -> SuperLU[np.float64]:
    """Return the factors of a symmetric positive definite sparse matrix in compressed columns."""
    from scipy.sparse.linalg import splu

    factors: SuperLU[np.float64] = splu(
        matrix,
        permc_spec=ORDERING,
        diag_pivot_thresh=0.0,
        relax=RELAX,
        panel_size=PANEL,
        options={"SymmetricMode": True},
    )
    return factors


def eliminated(matrix: Any, n_kept: int) -> FloatArray:
    """Return the (k, k) matrix that is left of the last k unknowns when all before them are eliminated.

    Factorising with the kept unknowns last leaves what is wanted in the factors' last corner. That takes about as long
    as factorising alone; solving for one kept unknown after the other takes ten times as long.

    Parameters
    ----------
    matrix : symmetric positive semidefinite, sparse; the first unknowns' block positive definite
    """
    from scipy.sparse import diags
    from scipy.sparse.linalg import splu

    n = matrix.shape[0] - n_kept
    if n == 0 or n_kept == 0:
        return np.asarray(matrix.toarray()[n:, n:])
    order = np.concatenate([_order(matrix[:n, :n].tocsc()), np.arange(n, n + n_kept)])
    raised = np.where(np.arange(n + n_kept) < n, 0.0, matrix.diagonal())  # so that the last pivot is not zero
    factors = splu(
        (matrix[order][:, order] + diags(raised)).tocsc(),
        permc_spec=AS_GIVEN,
        diag_pivot_thresh=0.0,
        panel_size=PANEL,
        options={"SymmetricMode": True},
    )
    if not np.array_equal(factors.perm_c[n:], np.arange(n, n + n_kept)):
        raise AssertionError("the factors do not end with the unknowns to keep")
    corner = (factors.L[n:, n:] @ factors.U[n:, n:]).toarray() - np.diag(raised[n:])
    return np.asarray((corner + corner.T) / 2)


def _order(matrix: Any) -> IntArray:
    """Return the order to eliminate unknowns in.

    SuperLU tells its ordering only with factors; incomplete ones, everything small dropped, take half the time.
    """
    from scipy.sparse.linalg import spilu

    try:
        rough = spilu(
            matrix,
            drop_tol=1.0,
            fill_factor=1.0,
            permc_spec=ORDERING,
            diag_pivot_thresh=0.0,
            panel_size=PANEL,
            options={"SymmetricMode": True},
        )
    except RuntimeError:  # a pivot lost with what was dropped
        rough = factorised(matrix)
    return np.asarray(np.argsort(rough.perm_c))
