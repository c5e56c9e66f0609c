"""Fuses: what current a bond or neck carries for ever, how hot its middle gets, and how soon it opens above that.

One model for all: heat is conducted along the conductor to ends held at the metal's temperature, resistivity rises
linearly with temperature, the side may lose heat, melting takes up latent heat. Conductivity and heat capacity are
constants of the metal. The conductor counts as open when its middle has taken up all its heat of melting with the
resistivity of the hot solid; drops, oxide skins and arcs are outside this model, so bench tests decide.

From the moment the middle reaches the melting point, the metal around it is at that temperature too, nothing is
conducted away from it, and all heat made there goes into melting: the time this takes is a plain quotient (derived).
That is the time of a point. Within some ten per cent of the steady opening current a piece as long as the wire is
thick takes longer, about twice as long at a thousandth above it: read times there as "at least".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from layout_app.geometry.arrays import BoolArray, FloatArray
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from layout_app.model.limits import Limits
from layout_app.model.validation import require_count, require_number
from layout_app.physics.bonds import Fuse
from layout_app.physics.fuses_conduction import (
    first_true,
    middle_after,
    steady_mean,
    steady_middle,
    time_to_reach,
)

CONTINUOUS_SHARE = Limits().bond_share

LEAST_EXCESS = 1e-9  # nearer to the steady opening current than this, time means nothing
N_TRIED, N_NARROWINGS = 33, 5  # from nine decades to 1e-6 of the excess over the steady opening current


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpeningTimes:
    """For each current: when the middle begins to melt and when it is molten through, s; infinite where never."""

    melting_s: FloatArray
    opening_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpeningCurve:
    """Opening time against current, for plotting: (n,) arrays, rising current, all times finite."""

    steady_a: float  # below this it never opens: where the curve runs to infinity
    current_a: FloatArray
    melting_s: FloatArray
    opening_s: FloatArray


@lru_cache(maxsize=256)  # every scenario of a module's few kinds of joint asks for it several times
def opening_current_a(fuse: Fuse) -> float:
    """Return the least steady current that opens the fuse, A.

    Without side loss this is (2 A / L) √(k / (ρ a)) arccos(1 / (1 + a (Tm − T0))) for each conductor, with ρ and a at
    the ends' temperature T0; derived. A long wire with side loss opens where its side gives off what it makes.
    """
    rise, coefficient, loss = _melting_rise_k(fuse), _coefficient_per_k(fuse), _loss(fuse)
    highest = rise / steady_middle(np.array([-loss]))  # were resistivity constant

    def melts(drive: FloatArray) -> BoolArray:
        return drive * steady_middle(coefficient * drive - loss) >= rise

    drive = first_true(melts, highest / (1e3 + 1e3 * coefficient * rise), highest)
    return float(np.sqrt(drive[0] / _drive_per_a2(fuse)))


def continuous_rating_a(fuse: Fuse, share: float = CONTINUOUS_SHARE) -> float:
    """Return what the fuse may carry for ever when it is to carry this share of its opening current, A.

    See `Limits.SOURCES` for the default. Aluminium then settles some 30 K above its ends.
    """
    require_number("share of the opening current", share, above=0, most=1)
    return share * opening_current_a(fuse)


def steady_middle_c(fuse: Fuse, current_a: ArrayLike) -> FloatArray:
    """Return the temperature the middle settles at, °C; infinite where it would melt. Shape as the currents'."""
    drive, beta = _drive_and_beta(fuse, _checked("current_a", current_a))
    rise = drive * steady_middle(beta)
    return np.where(rise < _melting_rise_k(fuse), fuse.ends_c + rise, np.inf)


def steady_voltage_v(fuse: Fuse, current_a: ArrayLike) -> FloatArray:
    """Return the voltage from end to end once the middle has settled, V; infinite where it melts before that."""
    current = _checked("current_a", current_a)
    drive, beta = _drive_and_beta(fuse, current)
    is_steady = steady_middle_c(fuse, current) < np.inf
    mean_rise = drive * steady_mean(np.where(is_steady, beta, 0.0))
    return np.where(is_steady, current * fuse.cold_ohm * (1 + _coefficient_per_k(fuse) * mean_rise), np.inf)


def middle_after_c(fuse: Fuse, current_a: ArrayLike, time_s: ArrayLike, before_a: float = 0.0) -> FloatArray:
    """Return the temperature of the middle a time after the current stepped up, °C; at most the melting point.

    Parameters
    ----------
    current_a, time_s : arrays that broadcast; time_s of 0 gives the state before
    before_a : the current it had settled at before the step

    Raises
    ------
    LayoutError : the fuse would not survive the current before
    """
    current, time = np.broadcast_arrays(_checked("current_a", current_a), _checked("time_s", time_s))
    drive, beta = _drive_and_beta(fuse, current.ravel())
    rise = middle_after(time.ravel() / _time_scale_s(fuse), beta, drive, *_before(fuse, before_a))
    return fuse.ends_c + np.minimum(rise, _melting_rise_k(fuse)).reshape(current.shape)


def opening_times(fuse: Fuse, current_a: ArrayLike, before_a: float = 0.0) -> OpeningTimes:
    """Return when the fuse begins to melt and when it is open after the current stepped up and stays.

    Parameters
    ----------
    current_a : any shape; the times have the same
    before_a : the current it had settled at before the step; steps down never open it

    Raises
    ------
    LayoutError : the fuse would not survive the current before, or a current is no finite number from 0 up
    """
    current = _checked("current_a", current_a)
    opens = ((current > opening_current_a(fuse)) & (current > before_a)).ravel()
    drive, beta = (values.ravel()[opens] for values in _drive_and_beta(fuse, current))
    fourier = time_to_reach(_melting_rise_k(fuse), beta, drive, *_before(fuse, before_a))
    melting_s, molten_s = np.full((2, current.size), np.inf)
    melting_s[opens] = fourier * _time_scale_s(fuse)
    molten_s[opens] = melting_s[opens] + fuse.metal.latent_heat_j_m3 / _melting_power_w_m3(fuse, drive)
    return OpeningTimes(melting_s=melting_s.reshape(current.shape), opening_s=molten_s.reshape(current.shape))


def opening_within_a(fuse: Fuse, time_s: float, before_a: float = 0.0) -> float:
    """Return the current that opens the fuse in just this time after it had settled at the current before, A.

    For long times that is the steady opening current, from which it is told apart down to LEAST_EXCESS.
    """
    require_number("time_s", time_s, above=0)
    steady_a, low, high = opening_current_a(fuse), LEAST_EXCESS, 1.0

    def opens_in_time(excess: FloatArray) -> BoolArray:
        return np.asarray(opening_times(fuse, steady_a * (1 + excess), before_a).opening_s <= time_s)

    if opens_in_time(np.array(low)):
        return steady_a
    while not opens_in_time(np.array(high)):
        high *= 4
    for _ in range(N_NARROWINGS):
        tried = np.geomspace(low, high, N_TRIED)
        k = max(int(np.argmax([*opens_in_time(tried[:-1]), True])), 1)  # the last was seen to open in time
        low, high = float(tried[k - 1]), float(tried[k])
    return steady_a * (1 + high)


def opening_curve(fuse: Fuse, highest_a: float | None = None, before_a: float = 0.0, n: int = 60) -> OpeningCurve:
    """Return opening time against current from 0.1 % above the steady opening current on, denser where it bends.

    `highest_a` is 30 times the steady opening current when not given, and in any case at least 1 % above it.
    """
    require_count("points of the curve", n, least=2, most=10_000)
    steady_a = opening_current_a(fuse)
    excess = 29.0 if highest_a is None else max(highest_a / steady_a - 1, 0.01)
    current = steady_a * (1 + np.geomspace(1e-3, excess, n))
    times = opening_times(fuse, current, before_a)
    return OpeningCurve(steady_a=steady_a, current_a=current, melting_s=times.melting_s, opening_s=times.opening_s)


def _checked(name: str, values: ArrayLike) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    if not np.all((array >= 0) & (array < np.inf)):
        bad = array[~((array >= 0) & (array < np.inf))].flat[0]
        raise ValueOutOfRangeError(name, float(bad), "a finite number and at least 0")
    return array


def _before(fuse: Fuse, before_a: float) -> tuple[float, float]:
    """Return beta and drive of the steady state before a step."""
    require_number("before_a", before_a, least=0)
    opening_a = opening_current_a(fuse)
    if before_a >= opening_a:
        raise LayoutError(
            f"The {fuse.text} carries {before_a:g} A before the step, but opens at {opening_a:.4g} A already. "
            "Give a current it carries for ever, or a stronger bond."
        )
    drive, beta = _drive_and_beta(fuse, np.array([before_a]))
    return float(beta[0]), float(drive[0])


def _half_m(fuse: Fuse) -> float:
    return fuse.conductor.length_mm * 0.5e-3


def _time_scale_s(fuse: Fuse) -> float:
    return _half_m(fuse) ** 2 * fuse.metal.heat_capacity_j_m3k / fuse.metal.conductivity_w_mk


def _melting_rise_k(fuse: Fuse) -> float:
    return fuse.metal.melting_c - fuse.ends_c


def _coefficient_per_k(fuse: Fuse) -> float:
    """Temperature coefficient referred to the ends' temperature."""
    metal = fuse.metal
    return metal.temperature_coefficient_per_k * metal.resistivity_ohm_m / metal.resistivity_at_ohm_m(fuse.ends_c)


def _loss(fuse: Fuse) -> float:
    """Side loss against conduction along: l² h p / (k A)."""
    conductor = fuse.conductor
    per_area_1_m = 1e3 * conductor.perimeter_mm / conductor.area_mm2
    return _half_m(fuse) ** 2 * fuse.side_loss_w_m2k * per_area_1_m / fuse.metal.conductivity_w_mk


def _drive_per_a2(fuse: Fuse) -> float:
    """Kelvin per square ampere through all conductors: l² ρ / (k A²)."""
    area_m2 = fuse.n_conductors * fuse.conductor.area_mm2 * 1e-6
    per_density = fuse.metal.resistivity_at_ohm_m(fuse.ends_c) / fuse.metal.conductivity_w_mk
    return (_half_m(fuse) / area_m2) ** 2 * per_density


def _drive_and_beta(fuse: Fuse, current_a: FloatArray) -> tuple[FloatArray, FloatArray]:
    drive = np.asarray(_drive_per_a2(fuse) * current_a**2)
    return drive, np.asarray(_coefficient_per_k(fuse) * drive - _loss(fuse))


def _melting_power_w_m3(fuse: Fuse, drive: FloatArray) -> FloatArray:
    """Heat made less heat given off at the side where the metal is at its melting point; all of it melts metal."""
    rise = _melting_rise_k(fuse)
    net_k = drive * (1 + _coefficient_per_k(fuse) * rise) - _loss(fuse) * rise
    return net_k * fuse.metal.conductivity_w_mk / _half_m(fuse) ** 2
