"""How long opening times take, beside the plain way: finite volumes and implicit steps of enthalpy. Run by hand.

The plain way is refined until it agrees with ours to a few thousandths; its error is printed with its time. Nearer than
20 % to the steady opening current it needs many more cells; those currents are timed but not compared.
"""

import time

import numpy as np

from layout_app.model.catalogues import wire_metals
from layout_app.physics.bonds import BondWire, Fuse
from layout_app.physics.faults import load_margins, shorted_cell
from layout_app.physics.fuses import opening_current_a, opening_curve, opening_times
from tests.physics.plain_fuse import plain_times_s

N_CELLS, N_STEPS = 20, 800


def best_ms(function, repeats=9):
    """Return the shortest of several runs."""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        taken.append(time.perf_counter() - start)
    return 1e3 * min(taken)


def anew(function, *values, **named):
    """Call with nothing remembered of the fuse."""
    opening_current_a.cache_clear()
    return function(*values, **named)


def main():
    wire = BondWire(metal=wire_metals()["aluminium-wire"], diameter_mm=0.3, length_mm=10.0)
    fuse, current_a = Fuse(conductor=wire), 50.0
    ours_s = opening_times(fuse, current_a).opening_s
    plain_s = plain_times_s(fuse, current_a, N_CELLS, N_STEPS)[1]
    print(f"one opening time          {best_ms(lambda: anew(opening_times, fuse, current_a)):8.2f} ms", end="; ")
    plain_ms = best_ms(lambda: plain_times_s(fuse, current_a, N_CELLS, N_STEPS), 3)
    print(f"plain {plain_ms:8.1f} ms, {plain_s / ours_s - 1:+.2%} away")

    curve = opening_curve(fuse)
    print(f"curve of 60 currents      {best_ms(lambda: anew(opening_curve, fuse)):8.2f} ms", end="; ")
    start = time.perf_counter()
    plain = np.array([plain_times_s(fuse, current, N_CELLS, N_STEPS)[1] for current in curve.current_a])
    away = np.abs(plain / curve.opening_s - 1)[curve.current_a > 1.2 * curve.steady_a]
    print(f"plain {1e3 * (time.perf_counter() - start):8.1f} ms, {away.max():.2%} away at worst")

    given = {"n_parallel": 20, "source_v": 4.2, "cell_ohm": 0.025, "joint_ohm": 0.002, "fault_ohm": 0.005}
    print(f"steady opening current    {best_ms(lambda: opening_current_a.__wrapped__(fuse)):8.2f} ms")
    print(
        f"load margins              {best_ms(lambda: anew(load_margins, fuse, continuous_a=4.0, peak_a=8.0)):8.2f} ms"
    )
    print(f"a shorted cell            {best_ms(lambda: anew(shorted_cell, fuse, **given)):8.2f} ms")


if __name__ == "__main__":
    main()
