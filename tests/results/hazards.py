"""Scenarios for every code of the table of limits: two where it is found, two where it is not."""

import dataclasses

from hazard_parts import (
    AIRY,
    BAND,
    CARBON,
    COLD_AIR,
    CUT_OUT,
    ELEMENT,
    FRONT,
    HEATER,
    HOT,
    JET,
    LINE,
    NYLON,
    ROOMY,
    SMALL,
    WEIGHED,
    WINDOW,
    bottle,
    course,
    day,
    engine,
    follower,
    held,
    leaver,
    passed,
    rest,
    two,
)

import n2osim as n2

CORPUS: dict[str, tuple[tuple[n2.Scenario, n2.Scenario], tuple[n2.Scenario, n2.Scenario]]] = {
    "left-the-range": (
        (leaver(8000.0), leaver(5000.0, fill=3.0)),
        (leaver(300.0, minutes=10.0), rest()),
    ),
    "overfilled": (
        (rest(fill="10.8 lb"), rest(fill="8 lb", schedule=[n2.Refill("60 degF", to="10.6 lb")])),
        (rest(fill="10 lb"), rest(schedule=[n2.Refill("60 degF", to="9 lb")])),
    ),
    "liquid-full": (
        (
            rest(fill="10 lb", start="95 degF"),
            held(fill="10 lb", switch=n2.PressureSwitch("1000 psig", "1050 psig")),
        ),
        (rest(fill="10 lb"), rest(fill="5 lb", start="110 degF")),
    ),
    "nearly-empty": (
        (rest(fill="0.1 lb"), rest(fill="0.15 lb", start="90 degF")),
        (rest(fill="1 lb"), passed()),
    ),
    "pressure-at-131-degF": (
        (rest(fill="10.8 lb"), rest(fill="10 lb", bottles=bottle(service_pressure="1600 psig"))),
        (rest(fill="10 lb"), rest(fill="5 lb")),
    ),
    "relief-in-hot-car": (
        (
            rest(fill="10 lb", bottles=bottle(relief_pressure="2000 psig")),
            rest(fill="9 lb", bottles=bottle(relief_pressure="1500 psig")),
        ),
        (rest(fill="10 lb"), rest(fill="5 lb", bottles=bottle(relief_pressure="2000 psig"))),
    ),
    "over-service-pressure": (
        (rest(fill="10 lb", **HOT), day(to="10 lb")),
        (rest(fill="10 lb"), held()),
    ),
    "relief-margin": (
        (
            held(bottles=bottle(relief_pressure="1000 psig")),
            rest(fill="10 lb", bottles=bottle(relief_pressure="2200 psig"), **HOT),
        ),
        (held(), rest(fill="10 lb")),
    ),
    "over-test-pressure": (
        (
            rest(
                bottles=bottle(
                    test_pressure="600 psig", relief_pressure=None, service_pressure=None
                )
            ),
            rest(
                fill="10.5 lb",
                bottles=bottle(test_pressure="2000 psig", relief_pressure=None),
                **HOT,
            ),
        ),
        (rest(), held()),
    ),
    "relief-opened": (
        (
            held(60, bottles=bottle(relief_pressure="900 psig")),
            rest(fill="10 lb", bottles=bottle(relief_pressure="1500 psig"), **HOT),
        ),
        (held(), rest(fill="10 lb")),
    ),
    "over-125-degF": (
        (
            rest(fill="6 lb", **HOT),
            held(120, fill="2.5 lb", switch=n2.PressureSwitch("1000 psig", "1050 psig")),
        ),
        (rest(), held()),
    ),
    "hot-spot-over-125-degF": (
        (held(12, bottles=CARBON), held(12, bottles=CARBON, heater=n2.Heater("400 W"))),
        (held(), rest()),
    ),
    "layer-too-hot": (
        (
            held(10, bottles=CARBON, heater=n2.Heater("900 W")),
            held(
                60,
                bottles=CARBON,
                fill="10 lb",
                heater=n2.Heater("400 W"),
                switch=n2.PressureSwitch("990 psig", "1000 psig"),
            ),
        ),
        (held(), held(12, bottles=CARBON, heater=n2.Heater("150 W"))),
    ),
    "no-liquid-in-band": (
        (
            held(1, fill="4 lb", switch=n2.PressureSwitch("950 psig", "1000 psig")),
            held(1, fill="3 lb"),
        ),
        (held(1), held(1, fill="6 lb")),
    ),
    "relief-not-stated": (
        (rest(bottles=bottle(relief_pressure=None)), held(1, bottles=bottle(relief_pressure=None))),
        (rest(), held(1)),
    ),
    "service-not-stated": (
        (rest(bottles=bottle(service_pressure=None)), held(bottles=bottle(service_pressure=None))),
        (rest(), held()),
    ),
    "relief-above-test": (
        (
            rest(bottles=bottle(relief_pressure="3300 psig")),
            held(1, bottles=bottle(relief_pressure="4000 psig")),
        ),
        (rest(), held(1)),
    ),
    "band-above-relief": (
        (
            held(1, bottles=bottle(relief_pressure="1000 psig")),
            held(1, switch=n2.PressureSwitch("2900 psig", "3100 psig")),
        ),
        (held(1), rest(bottles=bottle(relief_pressure="1000 psig"))),
    ),
    "polymer-lined": (
        (rest(bottles=CARBON), held(1, bottles=NYLON)),
        (rest(), rest(bottles=n2.Bottle.preset("carbon-aluminium", "10 lb"))),
    ),
    "switch-never-opens": (
        (
            held(5, fill="2 lb", switch=n2.PressureSwitch("935 psig", "985 psig")),
            held(fill="1.5 lb", schedule=[n2.Rest("5 min", heater=True)]),
        ),
        (held(5), held(fill="5 lb", schedule=[n2.Rest("5 min", heater=True)])),
    ),
    "power-below-loss": (
        (
            held(180, heater=n2.Heater("120 W"), ambient=COLD_AIR, start="50 degF"),
            held(180, heater=n2.Heater("80 W"), ambient=COLD_AIR, start="50 degF"),
        ),
        (held(), held(5)),
    ),
    "band-not-reached": (
        (held(5), held(10, heater=n2.Heater("200 W"))),
        (held(), held(5, fill="2 lb", switch=n2.PressureSwitch("935 psig", "985 psig"))),
    ),
    "band-crosses-liquid-full": (
        (
            held(1, fill="10 lb", switch=n2.PressureSwitch("890 psig", "940 psig")),
            held(1, fill="10 lb", switch=n2.PressureSwitch("900 psig", "1000 psig")),
        ),
        (held(1, fill="10 lb", switch=n2.PressureSwitch("850 psig", "900 psig")), held(1)),
    ),
    "weather-above-band": (
        (held(5, ambient=n2.Ambient("105 degF")), held(5, ambient=n2.Ambient("98 degF"))),
        (held(5, ambient=n2.Ambient("80 degF")), held(5)),
    ),
    "overshoot": (
        (
            held(
                60, bottles=CARBON, fill="10 lb", switch=n2.PressureSwitch("990 psig", "1000 psig")
            ),
            held(60, heater=n2.Heater("900 W"), switch=n2.PressureSwitch("915 psig", "920 psig")),
        ),
        (held(), held(5)),
    ),
    "follower-above-band": (
        (follower(heater=n2.Heater("600 W")), follower(fill="10 lb", start="75 degF")),
        (follower(), follower(heater=n2.Heater("250 W"))),
    ),
    "follower-below-band": (
        (follower(heater=n2.Heater("100 W")), follower(start="30 degF")),
        (follower(), follower(heater=n2.Heater("400 W"))),
    ),
    "cut-out-cycling": (
        (
            held(40, heater=CUT_OUT, switch=n2.PressureSwitch("900 psig", "950 psig")),
            held(30, heater=CUT_OUT),
        ),
        (held(), held(30, heater=n2.Heater("300 W", cut_out=n2.CutOut("200 degF", "190 degF")))),
    ),
    "no-cut-out": (
        (held(), held(bottles=CARBON)),
        (
            held(heater=n2.Heater("300 W", cut_out=n2.CutOut("180 degF", "170 degF"))),
            held(heater=n2.Heater("300 W", self_limit=0.003)),
        ),
    ),
    "cut-out-too-high": (
        (
            held(
                bottles=CARBON, heater=n2.Heater("300 W", cut_out=n2.CutOut("230 degF", "220 degF"))
            ),
            held(heater=n2.Heater("300 W", cut_out=n2.CutOut("400 degF", "380 degF"))),
        ),
        (
            held(heater=n2.Heater("300 W", cut_out=n2.CutOut("200 degF", "190 degF"))),
            held(
                bottles=CARBON, heater=n2.Heater("300 W", cut_out=n2.CutOut("150 degF", "140 degF"))
            ),
        ),
    ),
    "heater-too-hot": (
        (
            held(20, heater=n2.Heater("500 W", coverage=0.2, contact_resistance=0.05)),
            held(20, heater=n2.Heater("900 W", coverage=0.1, contact_resistance=0.03)),
        ),
        (held(), held(20, heater=n2.Heater("500 W", coverage=0.2))),
    ),
    "relay-rating": (
        (
            held(
                90,
                heater=n2.Heater("500 W"),
                ambient=n2.Ambient("30 degF"),
                switch=n2.PressureSwitch("915 psig", "920 psig", rated_switchings=2),
            ),
            held(
                90,
                ambient=n2.Ambient("40 degF"),
                switch=n2.PressureSwitch("910 psig", "920 psig", rated_switchings=1),
            ),
        ),
        (held(90, switch=n2.PressureSwitch("880 psig", "920 psig", rated_switchings=60)), held(90)),
    ),
    "relay-welded": (
        (
            held(switch=dataclasses.replace(BAND, fault="welded")),
            held(10, switch=dataclasses.replace(BAND, fault="welded")),
        ),
        (held(), held(5, switch=dataclasses.replace(BAND, fault="stuck open"))),
    ),
    "sensor-in-line": (
        (
            held(switch=dataclasses.replace(BAND, sensor="line")),
            held(10, switch=dataclasses.replace(BAND, sensor="line")),
        ),
        (held(), rest(heater=HEATER, switch=dataclasses.replace(BAND, sensor="line"))),
    ),
    "switch-stuck-open": (
        (
            held(switch=dataclasses.replace(BAND, fault="stuck open")),
            held(5, switch=dataclasses.replace(BAND, fault="stuck open")),
        ),
        (held(), held(5)),
    ),
    "no-pressure-switch": (
        (held(1, switch=None), held(20, switch=None)),
        (held(1), rest(heater=HEATER)),
    ),
    "scatter-wider-than-band": (
        (
            held(1, switch=dataclasses.replace(BAND, tolerance="25 psi")),
            held(1, switch=n2.PressureSwitch("910 psig", "920 psig", tolerance="6 psi")),
        ),
        (held(1, switch=dataclasses.replace(BAND, tolerance="10 psi")), held(1)),
    ),
    "band-far-below": (
        (
            held(1, switch=n2.PressureSwitch(900.0, 950.0)),
            held(1, switch=n2.PressureSwitch("50 psig", "90 psig")),
        ),
        (held(1), held(1, switch=n2.PressureSwitch("300 psig", "350 psig"))),
    ),
    "heat-on-dry-wall": (
        (
            held(1, heater=n2.Heater("300 W", blanket="top")),
            held(1, heater=n2.Heater("300 W", blanket="top"), mounting=n2.Mounting(standing=True)),
        ),
        (held(1), held(1, heater=n2.Heater("300 W", blanket="lower"))),
    ),
    "over-fuse": (
        (
            held(1, supply=n2.Supply(fuse="15 A")),
            two(
                dict(heater=HEATER, follows="left"),
                schedule=[n2.Hold("1 min")],
                supply=n2.Supply(fuse="30 A"),
            ),
        ),
        (held(1, supply=n2.Supply(fuse="25 A")), held(1)),
    ),
    "near-fuse": (
        (
            held(1, supply=n2.Supply(fuse="25 A")),
            two(
                dict(heater=HEATER, follows="left"),
                schedule=[n2.Hold("1 min")],
                supply=n2.Supply(fuse="50 A"),
            ),
        ),
        (held(1, supply=n2.Supply(fuse="30 A")), held(1)),
    ),
    "weak-supply": (
        (
            held(1, heater=ELEMENT, supply=n2.Supply(resistance="0.1 ohm")),
            two(
                dict(heater=ELEMENT, follows="left"),
                schedule=[n2.Hold("1 min")],
                supply=n2.Supply(resistance="0.1 ohm"),
            ),
        ),
        (held(1, heater=ELEMENT, supply=n2.Supply(resistance="0.05 ohm")), held(1)),
    ),
    "launch-above-band": (
        (passed(start="97 degF", heater=HEATER, switch=BAND), day(to="10 lb")),
        (passed(heater=HEATER, switch=BAND), passed(start="97 degF")),
    ),
    "launch-below-band": (
        (
            passed(start="60 degF", heater=HEATER, switch=BAND),
            passed(start="20 degF", heater=HEATER, switch=BAND),
        ),
        (passed(heater=HEATER, switch=BAND), passed(start="60 degF")),
    ),
    "no-liquid-at-launch": (
        (passed(fill="1 lb"), passed(fill="4 lb", start="75 degF", mounting=FRONT)),
        (passed(), passed(fill="6 lb")),
    ),
    "liquid-out": (
        (
            passed(fill="3.6 lb", start="80 degF", schedule=[n2.Pass("30 s")]),
            passed(fill="4 lb", start="80 degF", engine=None, schedule=[n2.Pass("60 s")]),
        ),
        (passed(), passed(fill="1 lb")),
    ),
    "flow-model-extrapolated": (
        (
            passed(feed=n2.Feed(n2.Jets(1, "0.046 in"), model="nhne"), start="97.5 degF"),
            passed(feed=n2.Feed(n2.Jets(1, "0.046 in"), model="omega"), start="97 degF"),
        ),
        (passed(), passed(start="50 degF")),
    ),
    "stranded": (
        (
            passed(mounting=n2.Mounting(pickup_along=0.05, acceleration="1 g")),
            passed(mounting=n2.Mounting(pickup=0.3)),
        ),
        (passed(), rest(mounting=n2.Mounting(pickup=0.3))),
    ),
    "flow-inhibited": (
        (
            passed(start="97 degF", schedule=[n2.Pass("8 s", window=WINDOW)]),
            passed(start="84.5 degF", schedule=[n2.Pass("8 s", window=["900 psig", "1000 psig"])]),
        ),
        (passed(schedule=[n2.Pass("8 s", window=["500 psig", "1400 psig"])]), passed()),
    ),
    "window-one-gauge": (
        (
            two({}, schedule=[n2.Pass("2 s", window=WINDOW)]),
            two({"start": "86 degF"}, schedule=[n2.Pass("2 s", window=WINDOW)]),
        ),
        (
            two({}, schedule=[n2.Pass("2 s")]),
            passed(schedule=[n2.Pass("8 s", window=["500 psig", "1400 psig"])]),
        ),
    ),
    "trapped-liquid": ((passed(feed=LINE), rest(feed=LINE)), (passed(), rest())),
    "flow-restricted": (
        (
            passed(feed=SMALL),
            passed(
                feed=n2.Feed(n2.Jets(4, "0.046 in"), bottle_valve=n2.Valve(bore="0.06 in")),
                engine=None,
            ),
        ),
        (passed(feed=ROOMY), passed()),
    ),
    "bottles-unequal": (
        (
            two({"start": "70 degF"}, schedule=[n2.Pass("3 s")]),
            two({"start": "60 degF"}, schedule=[n2.Pass("3 s")]),
        ),
        (two({"start": "87 degF"}, schedule=[n2.Pass("3 s")]), passed()),
    ),
    "flow-beyond-data": (
        (passed(), passed(start="20 degF")),
        (
            passed(start="282 K"),
            passed(schedule=[n2.Pass("2 s", outflow="0.05 lb/s")], engine=None),
        ),
    ),
    "lean": (
        (
            passed(engine=engine(fuel_jets=n2.Jets(1, "0.018 in"))),
            passed(start="97 degF", engine=engine(fuel_jets=n2.Jets(1, "0.0195 in"))),
        ),
        (passed(), passed(engine=engine(fuel_jets=n2.Jets(1, "0.025 in")))),
    ),
    "may-be-lean": (
        (passed(), passed(engine=engine(fuel_jets=n2.Jets(1, "0.0212 in")))),
        (
            passed(feed=WEIGHED, engine=engine(fuel_jets=n2.Jets(1, "0.0215 in"))),
            passed(engine=engine(fuel_jets=n2.Jets(1, "0.018 in"))),  # it is lean
        ),
    ),
    "rich": (
        (passed(engine=engine(fuel_jets=n2.Jets(1, "0.026 in"))), passed(fill="1 lb")),
        (passed(), passed(engine=engine(fuel_jets=n2.Jets(1, "0.020 in")))),
    ),
    "engine-lean": (
        (
            passed(engine=engine(base_air="0.2 kg/s", base_fuel="0.010 kg/s")),
            passed(engine=engine(base_air="0.2 kg/s", base_fuel="0.012 kg/s")),
        ),
        (passed(engine=engine(base_air="0.2 kg/s", base_fuel="0.018 kg/s")), passed()),
    ),
    "no-fuel": (
        (
            passed(engine=engine(fuel_pressure="0 psig", regulator_referenced=True)),
            passed(
                engine=engine(
                    fuel_pressure="0 psig", intake_pressure="15 psig", regulator_referenced=True
                )
            ),
        ),
        (passed(), passed(engine=engine(fuel_pressure="43 psig", intake_pressure="15 psig"))),
    ),
    "no-n2o": (
        (
            passed(
                fill="0.05 lb",
                start="-40 degF",
                ambient=n2.Ambient("-40 degF"),
                engine=engine(intake_pressure="30 psig", fuel_pressure="70 psig"),
            ),
            passed(
                fill="0.03 lb",
                start="-40 degF",
                ambient=n2.Ambient("-40 degF"),
                engine=engine(intake_pressure="25 psig", fuel_pressure="70 psig"),
            ),
        ),
        (passed(), passed(fill="1 lb")),
    ),
    "charge-not-evaporated": (
        (
            passed(engine=engine(base_air="0.01 kg/s", base_fuel="0.001 kg/s")),
            passed(engine=engine(base_air="0.02 kg/s", base_fuel="0.002 kg/s")),
        ),
        (passed(engine=AIRY), passed()),
    ),
    "refill-short": (
        (
            rest(
                fill="4 lb",
                start="90 degF",
                schedule=[n2.Refill("60 degF", to="9 lb", pumped=False)],
            ),
            rest(
                fill="2 lb",
                start="80 degF",
                schedule=[n2.Refill("70 degF", to="9 lb", pumped=False)],
            ),
        ),
        (rest(fill="4 lb", schedule=[n2.Refill("60 degF", to="9 lb")]), rest()),
    ),
    "refill-spike": (
        (
            rest(
                fill="4 lb",
                start="80 degF",
                schedule=[n2.Refill("80 degF", to="10 lb", duration=0.0), n2.Rest("5 min")],
            ),
            rest(
                fill="5 lb",
                start="85 degF",
                schedule=[n2.Refill("75 degF", to="10 lb", duration=0.0), n2.Rest("5 min")],
            ),
        ),
        (rest(fill="4 lb", schedule=[n2.Refill("60 degF", to="9 lb"), n2.Rest("5 min")]), rest()),
    ),
    "delivery-cut": (
        (
            passed(schedule=course(("0 s", 0.3), ("12 s", 1.0))),
            passed(schedule=course(("0 s", 1.0), ("9 s", 0.2))),
        ),
        (passed(schedule=course(("0 s", 0.3), ("2 s", 1.0))), passed()),
    ),
    "delivery-never-opens": (
        (
            passed(schedule=course(("0 s", 0.0), ("2 s", 0.0))),
            passed(schedule=course(("0 s", 0.0))),
        ),
        (passed(schedule=course(("0 s", 0.0), ("2 s", 1.0))), passed()),
    ),
    "delivery-partial": (
        (
            passed(schedule=course(("0 s", 0.3), ("2 s", 0.6))),
            passed(schedule=course(("0 s", 0.5))),
        ),
        (passed(schedule=course(("0 s", 0.3), ("2 s", 1.0))), passed()),
    ),
    "interlock-off": (
        (
            passed(heater=HEATER, switch=BAND, schedule=[n2.Pass("8 s", heater=True)]),
            rest(
                heater=HEATER,
                switch=BAND,
                feeds={"purge": JET},
                schedule=[n2.Purge("2 s", heater=True)],
            ),
        ),
        (passed(heater=HEATER, switch=BAND), held(schedule=[n2.Rest("5 min", heater=True)])),
    ),
    "model-choices": (
        (
            rest(model=n2.Model(inside_factor=0.2)),
            rest(model=n2.Model(radiation=False, inside_cap=500.0)),
        ),
        (rest(), held(1)),
    ),
    "inside-coefficient": (
        (
            held(60, fill="10 lb", switch=n2.PressureSwitch("990 psig", "1000 psig")),
            held(60, bottles=CARBON, switch=n2.PressureSwitch("990 psig", "1000 psig")),
        ),
        (rest(), held(5, model=n2.Model(inside_coefficient=1000.0))),
    ),
}
"""Code: (two scenarios where it is found, two where it is not)."""
