"""Loops over arrays of states for the public API: one kernel call an element, no range checks.

Every loop fills ``out`` (one row a quantity) from flat arrays; one element goes through the same
code as a million, so arrays and scalars agree to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from n2osim import jit
from n2osim.fluid import flash, saturation, state, transport
from n2osim.fluid.equation_of_state import RHO_CRITICAL
from n2osim.jit import entry

_PART = 20_000  # states in one call of a kernel: Ctrl-C is looked at between calls


def run(kernel: Callable[..., None], rows: int, *arrays: NDArray[np.float64]) -> Any:
    """Run a filling kernel over broadcast arrays: (rows, *shape)."""
    broadcast = np.broadcast_arrays(*arrays)
    shape = broadcast[0].shape
    # Always a copy: a read-only or strided input would be another type, compiled anew.
    flat = [np.array(a, dtype=np.float64, order="C").reshape(-1) for a in broadcast]
    size = flat[0].size
    if size > _PART and jit.pending():
        jit.use_compiled()
    if size <= _PART:
        out = np.empty((rows, size))
        kernel(*flat, out)
        return out.reshape((rows, *shape))
    parts = [run(kernel, rows, *(a[k : k + _PART] for a in flat)) for k in range(0, size, _PART)]
    return np.concatenate(parts, axis=1).reshape((rows, *shape))


@entry
def fill_state(T, rho, out):
    """Whole states from T [K] and rho [kg/m3]: rows p T rho u h s cv x code, SI."""
    for i in range(T.size):
        p, u, h, s, cv, x, code = state.state_Trho(T[i], rho[i])
        if x < 0.0:
            x = 1.0 if rho[i] < RHO_CRITICAL else 0.0
        out[0, i] = p
        out[1, i] = T[i]
        out[2, i] = rho[i]
        out[3, i] = u
        out[4, i] = h
        out[5, i] = s
        out[6, i] = cv
        out[7, i] = x
        out[8, i] = code


@entry
def fill_saturation(T, out):
    """Saturation line at T [K]: T, the nine of ``sat``, dp/dT; SI."""
    for i in range(T.size):
        q = saturation.sat(T[i])
        out[0, i] = T[i]
        for k in range(9):
            out[k + 1, i] = q[k]
        out[10, i] = saturation.dpdT_sat(T[i])


@entry
def fill_rho_u(rho, u, out):
    """T [K] and rho from rho [kg/m3] and u [J/kg]."""
    for i in range(rho.size):
        out[0, i] = state.T_of_rho_u(rho[i], u[i], np.nan)
        out[1, i] = rho[i]


@entry
def fill_p_rho(p, rho, out):
    """T [K] and rho from p [Pa] and rho [kg/m3]."""
    for i in range(p.size):
        out[0, i] = flash.state_prho(p[i], rho[i])[0]
        out[1, i] = rho[i]


@entry
def fill_p_h(p, h, out):
    """T [K] and rho [kg/m3] from p [Pa] and h [J/kg]."""
    for i in range(p.size):
        T, rho, _x, _code = flash.state_ph(p[i], h[i])
        out[0, i] = T
        out[1, i] = rho


@entry
def fill_p_s(p, s, out):
    """T [K] and rho [kg/m3] from p [Pa] and s [J/kg/K]."""
    for i in range(p.size):
        T, rho, _x, _code = flash.state_ps(p[i], s[i])
        out[0, i] = T
        out[1, i] = rho


@entry
def fill_p_T(p, T, out):
    """T [K] and rho [kg/m3] from p [Pa] and T [K]."""
    for i in range(p.size):
        out[0, i] = T[i]
        out[1, i] = flash.state_pT(p[i], T[i])[1]


@entry
def fill_sat_T(p, out):
    """Saturation temperature [K] from p [Pa]."""
    for i in range(p.size):
        out[0, i] = saturation.sat_T(p[i])


@entry
def fill_single(T, rho, out):
    for i in range(T.size):
        cp, beta = state.cp_beta(T[i], rho[i])
        out[0, i] = cp
        out[1, i] = beta
        out[2, i] = state.speed_of_sound(T[i], rho[i])
        out[3, i] = transport.viscosity(T[i], rho[i])
        out[4, i] = transport.conductivity(T[i], rho[i])


@entry
def fill_surface_tension(T, out):
    for i in range(T.size):
        out[0, i] = transport.surface_tension(T[i])


KERNELS = (
    (fill_state, 9, 2),
    (fill_saturation, 11, 1),
    (fill_rho_u, 2, 2),
    (fill_p_rho, 2, 2),
    (fill_p_h, 2, 2),
    (fill_p_s, 2, 2),
    (fill_p_T, 2, 2),
    (fill_sat_T, 1, 1),
    (fill_single, 5, 2),
    (fill_surface_tension, 1, 1),
)
"""Every loop with the number of its quantities and of its arguments."""
