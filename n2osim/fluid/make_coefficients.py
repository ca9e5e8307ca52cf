"""Write the coefficient file that the fluid kernels read, from the installed CoolProp.

Run ``python -m n2osim.fluid.make_coefficients`` after a CoolProp upgrade that changes the
nitrous-oxide equation (a test says so when it does). Nothing is copied from paper by hand.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from n2osim.fluid import coolprop_oracle

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
    }


def _ideal_part(terms: list[dict[str, Any]]) -> dict[str, Any]:
    by_type = {term["type"]: term for term in terms}
    expected = {"IdealGasHelmholtzLead", "IdealGasHelmholtzLogTau", "IdealGasHelmholtzPlanckEinstein"}
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
    return {
        "T_edges": edges,
        "p": [piece["coef"] for piece in pieces["p"]],
        "rho_l_molar": [piece["coef"] for piece in pieces["rhoL"]],
        "rho_v_molar": [piece["coef"] for piece in pieces["rhoV"]],
        "T_critical": super_ancillary["meta"]["Tcrittrue / K"],
        "rho_critical_molar": super_ancillary["meta"]["rhocrittrue / mol/m^3"],
    }


def touch_kernels() -> None:
    """Renew the kernels' time stamps: the on-disk cache is keyed on the source file alone."""
    for source in Path(__file__).parents[1].rglob("*.py"):
        os.utime(source)


def main() -> None:
    """Write the coefficient file next to this module."""
    COEFFICIENT_FILE.write_text(json.dumps(extract_coefficients(), indent=1) + "\n")
    touch_kernels()
    print(f"wrote {COEFFICIENT_FILE}")


if __name__ == "__main__":
    main()
