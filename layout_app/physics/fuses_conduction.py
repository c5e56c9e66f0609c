"""Heat in a conductor between two cold ends, without dimensions: the one equation all fuses of this program share.

With x along half the conductor in units of its half-length l (0 in the middle, 1 at an end) and time as the Fourier
number F = k t / (C l²), the rise u above the ends' temperature follows

    du/dF = d²u/dx² + drive + beta u,    u = 0 at x = 1, symmetric about x = 0

for resistivity linear in temperature and a side loss in proportion to u. drive (kelvin) is the heating at the ends'
temperature; beta is what hotter metal heats more, less what its side gives off. Below CRITICAL_BETA there is a steady
state. Everything here is exact but for the series' rounding; derived, after Carslaw and Jaeger's treatment of rods.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray

CRITICAL_BETA = np.pi**2 / 4  # from here on, more heat is made than conduction can take to the ends
N_MODES = 64  # with the tail below: better than 1e-6 from SHORT_FOURIER on
SHORT_FOURIER = 0.01  # before, less than 1e-11 of the middle's heat has reached an end: 2 erfc(1 / (2 sqrt(F)))
LOSSY_BETA = -400.0  # below, the side takes all heat before the ends are felt: sech(√400) is 4e-9
MOST_EXPONENT = 600.0  # e^600 is beyond any melting point and still a float
N_HALVINGS = 52

_WAVES = (2 * np.arange(N_MODES) + 1) * np.pi / 2
_DECAYS = _WAVES**2
_WEIGHTS = np.where(np.arange(N_MODES) % 2, -2.0, 2.0) / _WAVES  # 1 = sum of weight × cos(wave x); cos is 1 at x = 0
# What the modes left out add to the steady middle, as a + b beta: the whole series are those of (sec(√β) − 1) / β.
_TAIL = 1 / 2 - float((_WEIGHTS / _DECAYS).sum())
_TAIL_PER_BETA = 5 / 24 - float((_WEIGHTS / _DECAYS**2).sum())


def steady_middle(beta: FloatArray) -> FloatArray:
    """Return the steady rise in the middle per drive, (sec √β − 1) / β; infinite from CRITICAL_BETA on."""
    root = np.minimum(np.sqrt(np.abs(beta)), MOST_EXPONENT)
    with np.errstate(divide="ignore", invalid="ignore"):
        full = (1 / np.where(beta < 0, np.cosh(root), np.cos(root)) - 1) / beta
    series = 1 / 2 + beta * (5 / 24 + beta * 61 / 720)
    return np.where(beta >= CRITICAL_BETA, np.inf, np.where(np.abs(beta) < 1e-4, series, full))


def steady_mean(beta: FloatArray) -> FloatArray:
    """Return the steady rise averaged along the conductor per drive, (tan √β / √β − 1) / β."""
    root = np.minimum(np.sqrt(np.abs(beta)), MOST_EXPONENT)
    with np.errstate(divide="ignore", invalid="ignore"):
        full = (np.where(beta < 0, np.tanh(root), np.tan(root)) / root - 1) / beta
    series = 1 / 3 + beta * (2 / 15 + beta * 17 / 315)
    return np.where(beta >= CRITICAL_BETA, np.inf, np.where(np.abs(beta) < 1e-4, series, full))


def middle_after(
    fourier: FloatArray, beta: FloatArray, drive: FloatArray, before_beta: float = 0.0, before_drive: float = 0.0
) -> FloatArray:
    """Return the rise in the middle at the given times after a step from a steady state to a new drive.

    Parameters
    ----------
    fourier, beta, drive : (m,) arrays; drive in kelvin
    before_beta, before_drive : of the steady state before; before_beta < CRITICAL_BETA

    Returns
    -------
    (m,) array, kelvin; not meaningful above e^MOST_EXPONENT
    """
    exponents = np.minimum((beta[:, None] - _DECAYS) * fourier[:, None], MOST_EXPONENT)
    driven = (_growth(exponents) * fourier[:, None]) @ _WEIGHTS + _TAIL + _TAIL_PER_BETA * beta
    unreached = fourier * _growth(np.minimum(beta * fourier, MOST_EXPONENT))  # ends not yet felt
    rise = drive * np.where((fourier < SHORT_FOURIER) | (beta < LOSSY_BETA), unreached, driven)
    if before_drive > 0:
        rise += before_drive * _left(fourier, beta, exponents, before_beta)
    return np.asarray(rise)


def time_to_reach(
    rise: float, beta: FloatArray, drive: FloatArray, before_beta: float = 0.0, before_drive: float = 0.0
) -> FloatArray:
    """Return the Fourier number at which the middle reaches a rise above its own at the start.

    Every drive must be larger than the one before, so that the middle only gets hotter, and large enough to get there;
    then the answer is right to N_HALVINGS halvings. Arguments as for `middle_after`.
    """
    start = before_drive * float(steady_middle(np.array(before_beta)))
    soonest = (rise - start) / (drive + np.maximum(beta, 0) * rise)  # were nothing conducted away

    def is_reached(fourier: FloatArray) -> BoolArray:
        return middle_after(fourier, beta, drive, before_beta, before_drive) >= rise

    return first_true(is_reached, soonest * (1 - 1e-9), np.full_like(soonest, 1e3))


def first_true(is_true: Callable[[FloatArray], BoolArray], low: FloatArray, high: FloatArray) -> FloatArray:
    """Return, for each pair of positive bounds, where a condition that stays true once true becomes so."""
    low, high = np.log(low), np.log(high)
    for _ in range(N_HALVINGS):
        middle = (low + high) / 2
        holds = is_true(np.exp(middle))
        low, high = np.where(holds, low, middle), np.where(holds, middle, high)
    return np.exp(high)


def _left(fourier: FloatArray, beta: FloatArray, exponents: FloatArray, before_beta: float) -> FloatArray:
    """Return what is left in the middle, per drive before, of the steady profile from before the step."""
    modes = np.exp(exponents)
    if before_beta < LOSSY_BETA:  # a flat profile
        unreached = np.exp(np.minimum(beta * fourier, MOST_EXPONENT))
        flat = np.where(fourier < SHORT_FOURIER, unreached, modes @ _WEIGHTS)
        return steady_middle(np.array(before_beta)) * flat
    tail = (_TAIL + _TAIL_PER_BETA * before_beta) * modes[:, -1]
    return np.asarray(modes @ (_WEIGHTS / (_DECAYS - before_beta)) + tail)


def _growth(exponents: FloatArray) -> FloatArray:
    """Return (e^y − 1) / y, which is 1 at y = 0."""
    is_small = np.abs(exponents) < 1e-8
    return np.where(is_small, 1 + exponents / 2, np.expm1(exponents) / np.where(is_small, 1.0, exponents))
