"""Write the coefficient file that the fluid kernels read, from the installed CoolProp.

Run ``python -m n2osim.fluid.make_coefficients`` after a CoolProp upgrade that changes the
nitrous-oxide equation (a test says so when it does). Nothing is copied from paper by hand.
Where the shipped file is missing or of an older layout, so that the package cannot be imported,
run this file itself: ``python n2osim/fluid/make_coefficients.py``.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np

if __package__:
    from n2osim.fluid import coolprop_oracle
else:  # run as a file: the package may not be importable yet
    import coolprop_oracle  # type: ignore[no-redef]

COEFFICIENT_FILE = Path(__file__).with_name("n2o_coefficients.json")


def extract_coefficients() -> dict[str, Any]:
    """The numbers the kernels need, from CoolProp's parameters of nitrous oxide (SI, per mole)."""
    parameters = coolprop_oracle.fluid_parameters()
    equation = parameters["EOS"][0]
    return {
        "source": "CoolProp get_fluid_param_string('NitrousOxide', 'JSON'); equation of state of "
        "Lemmon & Span, J. Chem. Eng. Data 51 (2006) 785-850; surface tension of Mulero et al., "
        "J. Phys. Chem. Ref. Data 41 (2012) 043105",
        "coolprop_version": coolprop_oracle.coolprop_version(),
        "molar_mass": equation["molar_mass"],
        "gas_constant": equation["gas_constant"],
        "T_triple": equation["Ttriple"],
        "T_max": equation["T_max"],
        "p_max": equation["p_max"],
        "T_reducing": equation["STATES"]["reducing"]["T"],
        "rho_reducing_molar": equation["STATES"]["reducing"]["rhomolar"],
        "ideal": _ideal_part(equation["alpha0"]),
        "residual": _residual_part(equation["alphar"]),
        "saturation": _saturation_part(equation["SUPERANCILLARY"]),
        "surface_tension": {
            key: parameters["ANCILLARIES"]["surface_tension"][key] for key in ("Tc", "a", "n")
        },
        "transport_reference": transport_reference(),
    }


def _ideal_part(terms: list[dict[str, Any]]) -> dict[str, Any]:
    by_type = {term["type"]: term for term in terms}
    expected = {
        "IdealGasHelmholtzLead",
        "IdealGasHelmholtzLogTau",
        "IdealGasHelmholtzPlanckEinstein",
    }
    if set(by_type) != expected or len(terms) != len(expected):
        raise RuntimeError(f"ideal-gas terms changed form in CoolProp: {sorted(by_type)}")
    lead = by_type["IdealGasHelmholtzLead"]
    einstein = by_type["IdealGasHelmholtzPlanckEinstein"]
    return {
        "lead": [lead["a1"], lead["a2"]],
        "log_tau": by_type["IdealGasHelmholtzLogTau"]["a"],
        "einstein_n": einstein["n"],
        "einstein_t": einstein["t"],
    }


def _residual_part(terms: list[dict[str, Any]]) -> dict[str, Any]:
    if [term["type"] for term in terms] != ["ResidualHelmholtzPower"]:
        raise RuntimeError("residual terms changed form in CoolProp")
    return {key: terms[0][key] for key in ("n", "d", "t", "l")}


def _saturation_part(super_ancillary: dict[str, Any]) -> dict[str, Any]:
    pieces = {key: super_ancillary[f"jexpansions_{key}"] for key in ("p", "rhoL", "rhoV")}
    edges = [piece["xmin"] for piece in pieces["p"]] + [pieces["p"][-1]["xmax"]]
    for expansions in pieces.values():
        if [piece["xmin"] for piece in expansions] + [expansions[-1]["xmax"]] != edges:
            raise RuntimeError("super-ancillary pieces no longer share their temperature edges")
    rho_l = [piece["coef"] for piece in pieces["rhoL"]]
    rho_v = [piece["coef"] for piece in pieces["rhoV"]]
    return {
        "T_edges": edges,
        "p": [piece["coef"] for piece in pieces["p"]],
        "rho_l_molar": rho_l,
        "rho_v_molar": rho_v,
        **_fit_caloric(np.array(edges), np.array(rho_l), np.array(rho_v)),
        "T_critical": super_ancillary["meta"]["Tcrittrue / K"],
        "rho_critical_molar": super_ancillary["meta"]["rhocrittrue / mol/m^3"],
    }


_CALORIC = ("u_l", "u_v", "s_l", "s_v", "cv_l", "cv_v")


def _fit_caloric(edges: np.ndarray, rho_l: np.ndarray, rho_v: np.ndarray) -> dict[str, Any]:
    """Expand saturated u, s and the two shares of c_v on the pieces of the super-ancillary.

    The equation of state at the super-ancillary's densities, interpolated at each piece's own
    Chebyshev nodes; tests/fluid holds the result against the equation itself.
    """
    size = rho_l.shape[1]
    x = np.cos(np.pi * (np.arange(size) + 0.5) / size)
    basis = np.polynomial.chebyshev.chebvander(x, size - 1)
    fits = np.empty((len(edges) - 1, size, len(_CALORIC)))
    for i in range(len(edges) - 1):
        T = 0.5 * (edges[i] + edges[i + 1] + x * (edges[i + 1] - edges[i]))
        states = zip(T, basis @ rho_l[i], basis @ rho_v[i], strict=True)
        fits[i] = np.linalg.solve(basis, np.array([_caloric(*state) for state in states]))
    # The c_v shares become 0/0 within microkelvins of the critical point: the last piece (8 uK)
    # carries on with the value where the piece before ends.
    fits[-1, :, 4:] = 0.0
    fits[-1, 0, 4:] = fits[-2, :, 4:].sum(axis=0)
    return {name: fits[:, :, j].tolist() for j, name in enumerate(_CALORIC)}


def _caloric(T: float, rho_l: float, rho_v: float) -> tuple[float, ...]:
    """u_l, u_v, s_l, s_v and the phases' shares of two-phase c_v (see state.py), per kg."""
    import CoolProp

    state = coolprop_oracle.abstract_state()
    state.specify_phase(CoolProp.iphase_gas)  # the literal equation, no phase search
    phases = []
    for rho in (rho_l, rho_v):
        state.update(CoolProp.DmolarT_INPUTS, rho, T)
        p_T = state.first_partial_deriv(CoolProp.iP, CoolProp.iT, CoolProp.iDmass)
        p_rho = state.first_partial_deriv(CoolProp.iP, CoolProp.iDmass, CoolProp.iT)
        phases.append((state.umass(), state.smass(), state.cvmass(), state.rhomass(), p_T, p_rho))
    state.unspecify_phase()
    liquid, vapour = phases
    slope = (vapour[1] - liquid[1]) / (1.0 / vapour[3] - 1.0 / liquid[3])
    shares = [cv + T * (slope - p_T) ** 2 / (d * d * p_d) for _, _, cv, d, p_T, p_d in phases]
    return liquid[0], vapour[0], liquid[1], vapour[1], shares[0], shares[1]


def transport_reference() -> dict[str, Any]:
    """Carbon dioxide's excess viscosity and conductivity, the reference fluid of transport.py.

    Viscosity (Laesecke & Muzny, J. Phys. Chem. Ref. Data 46 (2017) 013107) is sampled from
    CoolProp and stored as a Chebyshev expansion of excess viscosity over density; conductivity
    (Huber et al., J. Phys. Chem. Ref. Data 45 (2016) 013102) is a polynomial and copied as such.
    """
    parameters = coolprop_oracle.fluid_parameters("CarbonDioxide")
    conductivity = parameters["TRANSPORT"]["conductivity"]
    residual = conductivity["residual"]
    critical = conductivity["critical"]
    if residual["type"] != "polynomial" or critical["type"] != "simplified_Olchowy_Sengers":
        raise RuntimeError("carbon dioxide's conductivity changed form in CoolProp")
    return {
        "molar_mass": parameters["EOS"][0]["molar_mass"],
        "T_reducing": residual["T_reducing"],
        "rho_reducing": residual["rhomass_reducing"],
        "viscosity_T": list(VISCOSITY_T),
        "viscosity_rho": list(VISCOSITY_RHO),
        "viscosity": _fit_excess_viscosity().tolist(),
        "conductivity": _conductivity_polynomial(residual),
        "critical": {key: critical[key] for key in ("GAMMA", "R0", "gamma", "nu", "qD", "zeta0")},
    }


def _conductivity_polynomial(residual: dict[str, Any]) -> list[list[float]]:
    """Rows of coefficients of 1 and T/T_c, columns of delta, delta^2 ...: excess conductivity."""
    rows = np.zeros((2, int(max(residual["d"]))))
    for b, d, t in zip(residual["B"], residual["d"], residual["t"], strict=True):
        if t not in (0.0, -1.0) or d != int(d) or d < 1:
            raise RuntimeError("carbon dioxide's conductivity changed form in CoolProp")
        rows[int(-t), int(d) - 1] += b
    return rows.tolist()


def excess_viscosity_per_density(T: float, rho: float) -> float:
    """Carbon dioxide's (viscosity - dilute-gas viscosity) / density, Pa s m3/kg (CoolProp)."""
    from CoolProp import DmassT_INPUTS

    state = coolprop_oracle.abstract_state("CarbonDioxide")
    state.update(DmassT_INPUTS, rho, T)
    parts = state.viscosity_contributions()
    return float((parts["initial_density"] + parts["residual"]) / rho)


VISCOSITY_T = (175.0, 525.0)
VISCOSITY_RHO = (0.0, 1380.0)


def _fit_excess_viscosity(size_T: int = 12, size_rho: int = 14) -> np.ndarray:
    """Interpolate at Chebyshev nodes; 4e-6 of the viscosity at worst (tests/fluid)."""
    x = np.cos(np.pi * (np.arange(size_T) + 0.5) / size_T)
    y = np.cos(np.pi * (np.arange(size_rho) + 0.5) / size_rho)
    T = np.interp(x, (-1.0, 1.0), VISCOSITY_T)
    rho = np.interp(y, (-1.0, 1.0), VISCOSITY_RHO)
    values = np.array([[excess_viscosity_per_density(t, r) for r in rho] for t in T])
    chebvander = np.polynomial.chebyshev.chebvander
    half = np.linalg.solve(chebvander(x, size_T - 1), values)
    return np.asarray(np.linalg.solve(chebvander(y, size_rho - 1), half.T).T)


def touch_kernels() -> None:
    """Renew the kernels' time stamps: the on-disk cache is keyed on the source file alone."""
    for source in Path(__file__).parents[1].rglob("*.py"):
        os.utime(source)


def main() -> None:
    """Write the coefficient file next to this module."""
    lines = json.dumps(extract_coefficients(), separators=(",", ":")).replace("],[", "],\n[")
    COEFFICIENT_FILE.write_text(lines + "\n")
    touch_kernels()
    print(f"wrote {COEFFICIENT_FILE}")


if __name__ == "__main__":
    main()
