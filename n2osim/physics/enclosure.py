"""What released N2O does to the air of a closed car, boot, trailer or room.

Oxygen and nitrogen are thinned alike, so the oxygen left and the N2O that took its place follow
from each other: N2O fraction = 1 - oxygen / 20.95 %. How much is left depends on how gas and air
mix; three courses that can be derived are offered (v: volume of the gas at the space's own
temperature and pressure, V: volume of the space):

"displacement"  well mixed all the time, and as much mixture leaves through gaps as gas comes in:
                dx/dv = -x / V, so x = x0 exp(-v / V). A leaky space; the default.
"sealed"        nothing leaves: x = x0 V / (V + v), pressure rises to (V + v) / V.
"plug"          pure air is pushed out ahead of the gas: x = x0 (1 - v / V), 0 beyond. The least
                oxygen that can be left.

N2O is half as heavy again as air and comes out cold: it lies low before it mixes, so the floor of a
boot is worse than any of these for minutes. Averages, never a permission to stay inside.

Limits (oxygen-deficient below 19.5 %: 29 CFR 1910.134(d)(2)(iii), 29 CFR 1910.146(b); simple
asphyxiant: 29 CFR 1926.55 Appendix A. Exposure: NIOSH recommended limit 25 ppm over the time
exposed, publication 77-140 of 1977, meant for waste anaesthetic gas; ACGIH threshold limit value
50 ppm over 8 h, both as listed in OSHA's chemical sampling entry for nitrous oxide).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.fluid import state_from_p_T
from n2osim.units import STANDARD_ATMOSPHERE, parse

OXYGEN_IN_AIR = 0.2095
"""Volume fraction in dry air (US Standard Atmosphere 1976: 20.9476 %)."""
OXYGEN_LEAST = 0.195
"""Below this an atmosphere is oxygen-deficient: 29 CFR 1910.134(d)(2)(iii) and 1910.146(b)."""
NIOSH_LIMIT = 25e-6
"""NIOSH recommended exposure limit, volume fraction (25 ppm over the time exposed)."""
CAR_VOLUME = 3.0
"""m3 of air in a closed two-door car; typical, no source."""
MIXING = ("displacement", "sealed", "plug")
ROOM = 294.26  # K: 70 degF


@dataclass(frozen=True)
class ClosedSpace:
    """Air of a closed space after N2O was let into it.

    mass (kg) let in; gas_volume (m3) it takes up at the space's temperature and pressure; volume
    (m3) of the space; oxygen, nitrous: volume fractions afterwards, well mixed; mixing: see
    :data:`MIXING`; pressure_ratio: pressure afterwards over before (1 unless "sealed").
    """

    mass: float
    gas_volume: float
    volume: float
    oxygen: float
    nitrous: float
    mixing: str
    pressure_ratio: float = 1.0

    @property
    def times_exposure_limit(self) -> float:
        """N2O over NIOSH's recommended exposure limit of 25 ppm."""
        return self.nitrous / NIOSH_LIMIT


def gas_volume(
    mass: float | str, temperature: float | str = ROOM, pressure: float | str = STANDARD_ATMOSPHERE
) -> float:
    """Volume (m3) of ``mass`` (kg) of N2O as gas at ``temperature`` (K) and ``pressure`` (Pa abs).

    Real-gas density by the equation of state (Lemmon & Span 2006). Raises InputError outside
    200 to 400 K, 30 to 200 kPa.
    """
    m = parse(mass, "mass", name="released mass", low=0.0)
    T = parse(temperature, "temperature", name="air temperature", low=200.0, high=400.0)
    p = parse(pressure, "pressure", name="air pressure", low=30e3, high=200e3)
    return m / float(state_from_p_T(p, T).rho)


def closed_space(
    mass: float | str,
    volume: float | str = CAR_VOLUME,
    temperature: float | str = ROOM,
    pressure: float | str = STANDARD_ATMOSPHERE,
    mixing: str = "displacement",
) -> ClosedSpace:
    """Oxygen and N2O in a closed space of ``volume`` (m3) after ``mass`` (kg) was let into it.

    ``temperature`` (K) and ``pressure`` (Pa absolute) of the air before; ``mixing`` as at the head
    of this module. Raises InputError for values that make no sense.

    >>> round(closed_space("1 lb", "3 m3").oxygen, 4)
    0.1929
    """
    if mixing not in MIXING:
        raise InputError(
            "mixing",
            mixing,
            "",
            f"one of {', '.join(MIXING)}",
            '"displacement" suits a car, which is never tight',
        )
    V = parse(volume, "volume", name="volume of the closed space", low=1e-3, high=1e6)
    gas = gas_volume(mass, temperature, pressure)
    ratio = gas / V
    left = {
        "displacement": math.exp(-ratio),
        "sealed": 1.0 / (1.0 + ratio),
        "plug": max(0.0, 1.0 - ratio),
    }[mixing]
    return ClosedSpace(
        parse(mass, "mass", name="released mass", low=0.0),
        gas,
        V,
        OXYGEN_IN_AIR * left,
        1.0 - left,
        mixing,
        1.0 + ratio if mixing == "sealed" else 1.0,
    )


def volume_made_deficient(
    mass: float | str,
    oxygen: float | str = OXYGEN_LEAST,
    temperature: float | str = ROOM,
    pressure: float | str = STANDARD_ATMOSPHERE,
) -> float:
    """Largest closed space (m3) that ``mass`` (kg) of N2O brings down to ``oxygen`` (fraction).

    Well mixed with displacement: V = v / ln(x0 / x).

    >>> import n2osim as n2
    >>> print(f"{n2.volume_made_deficient('0.8 lb'):.1f} m3 below 19.5 % oxygen")
    2.8 m3 below 19.5 % oxygen
    """
    x = parse(
        oxygen, "fraction", name="oxygen fraction", low=1e-3, high=OXYGEN_IN_AIR, high_open=True
    )
    return gas_volume(mass, temperature, pressure) / math.log(OXYGEN_IN_AIR / x)
