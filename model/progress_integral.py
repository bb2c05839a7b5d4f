"""How far a transformation is when it has gone on for so long: the integral of its rate equation.

A rate dX/dt = pace * X^(a (1 - X)) (1 - X)^(a X) makes the share X a function of the time integral of
the pace alone, whatever the temperatures in between. That function, and its inverse, are kept as tables.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

KIRKALDY_EXPONENT: Final = 2.0 / 3.0
LI_EXPONENT: Final = 0.4
BRAKE_STEP: Final = 0.05
BRAKE_MOST: Final = 12.0
"""Grid of the exponent by which alloy slows bainite as it goes on; nothing in our ranges passes its end."""
_NODES: Final = 801
_TABLE: Final = 1024


def _eased(exponent: float) -> tuple[Array, Array]:
    """Return shares from 0 to 1 on nodes that crowd at both ends, and the integrand with its Jacobian.

    X = s^3 / (s^3 + (1 - s)^3) takes the integrable poles at both ends away.
    """
    s = np.linspace(0.0, 1.0, _NODES)
    below, above = s**3, (1.0 - s) ** 3
    share = below / (below + above)
    jacobian = 3.0 * s**2 * (1.0 - s) ** 2 / (below + above) ** 2
    rate = share ** (exponent * (1.0 - share)) * (1.0 - share) ** (exponent * share)
    at_ends = 3.0 * 0.0 ** (2.0 - 3.0 * exponent)  # the limit of s^2 / s^3a: 3 where a = 2/3, else 0
    integrand = np.divide(jacobian, rate, out=np.full(_NODES, at_ends), where=rate > 0.0)
    return share, integrand


def _summed(integrand: Array) -> Array:
    """Return the integral from the first node to each, (..., nodes), over 0 to 1.

    Source: a cubic through the four nodes about each stretch, a parabola at both ends. Our own, so that the
    app opens without scipy's room for it.
    """
    f, stretches = integrand, np.empty((*integrand.shape[:-1], _NODES - 1))
    stretches[..., 1:-1] = 13.0 * (f[..., 1:-2] + f[..., 2:-1]) - f[..., :-3] - f[..., 3:]
    stretches[..., 0] = 10.0 * f[..., 0] + 16.0 * f[..., 1] - 2.0 * f[..., 2]
    stretches[..., -1] = 10.0 * f[..., -1] + 16.0 * f[..., -2] - 2.0 * f[..., -3]
    whole = np.zeros_like(integrand)
    np.cumsum(stretches / (24.0 * (_NODES - 1)), axis=-1, out=whole[..., 1:])
    return whole


@cache
def _integral(exponent: float) -> tuple[Array, Array]:
    """Return shares and the integral to each."""
    share, integrand = _eased(exponent)
    return share, _summed(integrand)


def progress_integral(share: Array | float, exponent: float) -> Array:
    """Integral of du / [u^(a (1 - u)) (1 - u)^(a u)] from 0 to a share.

    share : any shape, 0 to 1 [-]; exponent : a, 2/3 after Kirkaldy, 0.4 after Li
    Returns the same shape [-].
    Source: Kirkaldy & Venugopalan 1984 (I), Li et al. 1998 (S), both from memory; worked numerically.
    """
    return np.asarray(np.interp(share, *_integral(exponent)))


class _Table(NamedTuple):
    """Straight lines by brake on even parts of an integral's root, flat, (b * (table + 1)).

    By its root, as under a strong brake most of the share comes with the first of the integral.
    rise : to the next part; start : where the line of a part would be at the row's own beginning
    """

    start: Array
    rise: Array

    @classmethod
    def of(cls, rows: list[Array]) -> _Table:
        values = np.concatenate(rows)
        rise = np.diff(values, append=values[-1])
        return cls(values - rise * np.tile(np.arange(_TABLE + 1), len(rows)), rise)

    def astype(self, precision: np.dtype[Any]) -> _Table:
        """Return the same in a precision."""
        return _Table(self.start.astype(precision), self.rise.astype(precision))

    def at(self, part: NDArray[np.intp], along: Array) -> Array:
        """Return the values so far along a row, of which that is the part."""
        values = self.rise.take(part)
        values *= along
        values += self.start.take(part)
        return values


def _part(along: Array) -> NDArray[np.intp]:
    """Return the part of a row that is come to; along : squares of ways, made ways not past its end."""
    np.sqrt(along, out=along)
    np.minimum(along, _ends(along.shape[-1:], along.dtype), out=along)
    return along.astype(np.intp)


@lru_cache(maxsize=32)
def _ends(row: tuple[int, ...], precision: np.dtype[Any]) -> Array:
    """Return the end of a table for all of a row: a least is found twice as soon by it as by a number."""
    return np.full(row, np.nextafter(_TABLE, 0.0, dtype=precision))


class _Braked(NamedTuple):
    """Tables by brake.

    whole : (b,) the braked integral to 1; share : at a part of it; from_plain : it at a part of the plain
    plain_scale : parts of the table, squared, to one of the plain integral
    """

    whole: Array
    share: _Table
    from_plain: _Table

    @property
    def plain_scale(self) -> float:
        return _TABLE**2 / float(self.whole[0])


@cache
def _braked(precision: np.dtype[Any]) -> _Braked:
    """Return the tables for every brake in a precision."""
    if precision != np.float64:
        double = _braked(np.dtype(np.float64))
        tables = double.share.astype(precision), double.from_plain.astype(precision)
        return _Braked(double.whole, *tables)
    share, integrand = _eased(KIRKALDY_EXPONENT)
    brakes = np.arange(0.0, BRAKE_MOST + BRAKE_STEP, BRAKE_STEP)
    slowed = integrand * np.exp(brakes[:, None] * share**2)
    integral = _summed(slowed)
    even = np.linspace(0.0, 1.0, _TABLE + 1) ** 2
    shares = [np.interp(even, row / row[-1], share) for row in integral]
    from_plain = [np.interp(even, integral[0] / integral[0, -1], row) for row in integral]
    return _Braked(np.asarray(integral[:, -1]), _Table.of(shares), _Table.of(from_plain))


class Brake(NamedTuple):
    """Place of a brake in the tables: where its row begins, and parts squared to one of its integral."""

    row: NDArray[np.intp]
    scale: Array


def brake_place(brake: Array) -> Brake:
    """Return the place of a brake in the tables, any shape; brakes below 0 act as 0."""
    nearest = np.rint(np.clip(brake, 0.0, BRAKE_MOST) / BRAKE_STEP).astype(np.intp)
    return Brake(nearest * (_TABLE + 1), _TABLE**2 / _braked(np.dtype(np.float64)).whole[nearest])


def share_after(spent: Array, brake: Brake | None = None) -> Array:
    """Share transformed when the pace has summed up to an amount; inverse of the integral with a = 2/3.

    spent : time integral of the pace, any shape, 0 or more [-]
    brake : of `brake_place`, broadcasting; None for the plain integral I, else I' of bainite, whose integrand
        carries exp(brake u^2)
    Returns the broadcast shape [-], 0 to 1, within 5e-3 (the brake is taken to the nearest 0.05).
    Source: Kirkaldy & Venugopalan 1984, from memory.
    """
    spent = np.asarray(spent)
    tables = _braked(spent.dtype)
    row, scale = brake or (0, tables.plain_scale)
    along = np.asarray(spent * scale)
    return tables.share.at(_part(along) + row, along)


def share_and_braked(spent: Array, brake: Brake) -> tuple[Array, Array]:
    """Share transformed at plain amounts of I, and the amount of I' at the share of the last of them.

    spent : (k, ...) amounts [-]; brake : as `share_after`
    Returns (k, ...) and (...). Source: as `share_after`.
    """
    tables = _braked(spent.dtype)
    along = spent * tables.plain_scale
    part = _part(along)
    return tables.share.at(part, along), tables.from_plain.at(part[-1] + brake.row, along[-1])


def share_gone_on(plain: Array, more: Array, whole: Array, brake: Brake) -> tuple[Array, Array]:
    """Share transformed at amounts of I and, where these are whole, at more of I' from there on.

    plain : amounts of I so far, any shape [-]; more : of I' after them, of that shape, 0 where there is none
    whole : what the plain amounts come to, and brake : as `share_after`; both broadcasting
    Returns the share at both, and that at the plain amounts alone. Source: as `share_after`.
    """
    tables = _braked(plain.dtype)
    (ended,), braked = share_and_braked(whole[None], brake)
    goes_on = more > 0.0
    along = more * brake.scale
    along += braked * brake.scale
    along *= goes_on
    before = plain * tables.plain_scale
    before *= ~goes_on
    along += before
    part = _part(along)
    part += goes_on * brake.row
    share = tables.share.at(part, along)
    # where the brake is strong the two tables do not quite meet
    np.maximum(share, goes_on * ended, out=share)
    return share, np.minimum(share, ended)


def braked_integral(share: Array | float, brake: float) -> Array:
    """Integral I' of bainite from 0 to a share; parameters as `progress_integral` with a = 2/3, one brake."""
    nodes, integrand = _eased(KIRKALDY_EXPONENT)
    slowed = integrand * np.exp(max(brake, 0.0) * nodes**2)
    return np.asarray(np.interp(share, nodes, _summed(slowed)))
