"""Hardware: frozen descriptions of bottle, heater, switch, supply, feed, jets, surroundings.

No physics beyond geometry. Every class accepts SI floats or text with a unit, checks them, and
turns into a plain dict and back (``as_dict``, ``from_dict``).
"""

from n2osim.hardware.air import DayNight, TemperatureTable
from n2osim.hardware.ambient import Ambient, Boot, standard_pressure
from n2osim.hardware.bottle import Bottle, Layer
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed, FeedLine, Valve
from n2osim.hardware.heater import CutOut, Heater, Supply
from n2osim.hardware.jets import Jets
from n2osim.hardware.materials import MATERIALS, SURFACES, Material, material
from n2osim.hardware.switch import PressureSwitch
from n2osim.hardware.wall import WallNetwork, wall_network

__all__ = [
    "MATERIALS",
    "SURFACES",
    "Ambient",
    "Boot",
    "Bottle",
    "CutOut",
    "DayNight",
    "EngineSide",
    "Feed",
    "FeedLine",
    "Heater",
    "Jets",
    "Layer",
    "Material",
    "PressureSwitch",
    "Supply",
    "TemperatureTable",
    "Valve",
    "WallNetwork",
    "material",
    "standard_pressure",
    "wall_network",
]
