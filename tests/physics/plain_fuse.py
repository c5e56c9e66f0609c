"""The plain way to a fuse's opening time, for tests to come to and for benchmarks to stand beside."""

import math

import numpy as np
from scipy.linalg import solve_banded


def plain_times_s(fuse, current_a, n_cells, n_steps_per_stage=400):
    """Return melting and opening time by finite volumes over half the conductor and implicit steps of enthalpy.

    The plain way to the same physics: no series, no closed form for melting. A cell at the melting point keeps its
    temperature while it takes up its heat of melting; first order in time, second in space.
    """
    metal, conductor = fuse.metal, fuse.conductor
    area, dz = conductor.area_mm2 * 1e-6, conductor.length_mm * 0.5e-3 / n_cells
    heat_capacity, latent = metal.heat_capacity_j_m3k, metal.latent_heat_j_m3
    j2 = (current_a / area) ** 2
    slope = metal.resistivity_ohm_m * metal.temperature_coefficient_per_k
    loss = fuse.side_loss_w_m2k * conductor.perimeter_mm * 1e-3 / area
    melting = metal.melting_c - fuse.ends_c
    rise, molten = np.zeros(n_cells), np.zeros(n_cells)
    link = metal.conductivity_w_mk / dz**2
    diagonal = np.full(n_cells, -2 * link)
    diagonal[0], diagonal[-1] = -link, -3 * link  # symmetry in the middle; half a cell to the cold end
    dt = heat_capacity * melting / (j2 * metal.resistivity_at_ohm_m(fuse.ends_c)) / n_steps_per_stage
    made = j2 * metal.resistivity_at_ohm_m(fuse.ends_c)
    time, melting_s = 0.0, math.inf
    while molten[0] < latent:
        is_free = (molten == 0) & (rise < melting)
        reaction = diagonal + j2 * slope - loss
        bands = np.zeros((3, n_cells))
        bands[1] = np.where(is_free, heat_capacity / dt - reaction, 1.0)
        bands[0, 1:] = np.where(is_free[:-1], -link, 0.0)
        bands[2, :-1] = np.where(is_free[1:], -link, 0.0)
        before, molten_before = rise[0], molten[0]
        rise = solve_banded((1, 1), bands, np.where(is_free, heat_capacity / dt * rise + made, melting))
        time += dt
        if melting_s == math.inf and rise[0] >= melting:
            melting_s = time - dt * (rise[0] - melting) / (rise[0] - before)
        padded = np.concatenate([rise[:1], rise, [-rise[-1]]])
        conducted = link * np.diff(padded, 2)
        power = made + (j2 * slope - loss) * rise + conducted
        molten = np.where(is_free, np.maximum(0.0, heat_capacity * (rise - melting)), molten + power * dt)
        rise = np.minimum(rise, melting)
    return melting_s, time - dt * (molten[0] - latent) / (molten[0] - molten_before)
