"""Scenario texts that several tests use."""

SMALL = """\
schema = 1
title = "small"

[bottle]
preset = "steel"
capacity = "10 lb"
fill = "9 lb"
start = "70 degF"

[[schedule]]
kind = "rest"
duration = "2 min"
"""

EVERYTHING = """\
schema = 1
title = "every section"
clock_start = "18:30"

[bottle]
name = "left"
label = "my bottle"
preset = "carbon-aluminium"
capacity = "12 lb"
fill = "95 %"
start = "64 degF"
wall_start = "70 degF"

[mounting]
tilt = "10 deg"
acceleration = "1.2 g"

[heater]
power = "320 W"
voltage = "14.4 V"
coverage = "45 %"
cut_out = { opens = "200 degF", closes = "180 degF" }

[switch]
closes = "1000 psig"
opens = "1060 psig"
lag = "2 s"
offset = "-5 psi"
tolerance = "10 psi"
rated_switchings = 30

[ambient]
temperature = [["18:00", "62 degF"], ["22:00", "50 degF"]]
altitude = "1500 ft"
air_speed = "3 mph"
enclosure = { heat_capacity = "15 kJ/K", solar = "100 W" }

[feed]
jets = { count = 2, bore = "0.070 in", cd = 0.75 }
line = { length = "12 ft", dash = 6, fittings_k = 2 }
valve = { bore = "0.15 in" }
model = "hem"

[feeds.second]
effective_area = "3 mm2"

[feeds.purge]
jets = { count = 1, bore = "0.05 in" }

[engine]
fuel = "petrol"
bsfc = "0.5 lb/hp/h"

[supply]
voltage = "14.4 V"
resistance = "20 milliohm"

[model]
inside_factor = 0.8
nodes_per_layer = 3

[numerics]
tolerance = 2.0

[[schedule]]
kind = "hold"
duration = "45 min"
until_open = true
label = "warm"

[[schedule]]
kind = "purge"
duration = "1 s"

[[schedule]]
kind = "repeat"
times = 2

[[schedule.items]]
kind = "pass"
duration = "8 s"
delay = "0.4 s"
window = ["850 psig", "1200 psig"]

[[schedule.items.stages]]
delivery = [["0 s", 0.5], ["2 s", 1.0]]

[[schedule.items.stages]]
feed = "second"
delivery = [["0 s", 0], ["3 s", 0], ["3 s", "100 %"]]

[[schedule.items]]
kind = "rest"
duration = "30 min"

[[schedule]]
kind = "weigh"
scale_tolerance = "0.05 lb"
refill_below = "6 lb"

[[schedule]]
kind = "refill"
supply_temperature = "70 degF"
to = "12 lb"
pumped = false
"""

PAIR = """\
schema = 1
[[bottles]]
name = "left"
preset = "aluminium"
capacity = "10 lb"
fill = "10 lb"
start = "60 degF"
[bottles.heater]
power = "300 W"
[bottles.switch]
closes = "950 psig"
opens = "1000 psig"

[[bottles]]
name = "right"
preset = "aluminium"
capacity = "10 lb"
fill = "8 lb"
start = "60 degF"
follows = "left"
[bottles.heater]
power = "300 W"

[[schedule]]
kind = "pass"
duration = "5 s"
outflow = "0.1 lb/s"
"""

CHECKS = """\
# constant coefficients, no losses, a lumped wall, a prescribed outflow
schema = 1
[bottle]
volume = "6.9 L"
wall_heat_capacity = "5 kJ/K"
inner_area = "0.2 m2"
fill = "5.06 kg"
start = "20 degC"
[model]
inside_coefficient = 400.0
outside_coefficient = 0
nodes_per_layer = 1
[[schedule]]
kind = "pass"
duration = "30 s"
outflow = "0.05 kg/s"
"""
