"""Each part carries itself: how to add one, carried out in a copy, the files touched counted."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from recipe_tools import Copy

BRASS = """\
    Material("brass", 110.0, 110.0, 8500.0, 380.0, None, "typical", "free-cutting brass"),
"""


def test_a_material_is_one_entry(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    copy.replace("hardware/materials.py", "_ALL = (\n", "_ALL = (\n" + BRASS)
    assert len(copy.touched) == 1
    found = copy.python(
        "import n2osim as n2; from n2osim.docs.make_tables import scenario_reference as page\n"
        "b = n2.Bottle.from_dict({'outer_diameter': '7 in', 'capacity': '10 lb',"
        " 'wall': '5 mm', 'material': 'Brass'})\n"
        "print(b.layers[0].material.density, '`brass`' in page())"
    )
    assert found.split() == ["8500.0", "True"]


THICK = """\
    "thick steel": Shell("3AA", 2.5, 0.8, 477.0, "painted", "", synonyms=("heavy",)),
"""


def test_a_bottle_preset_is_one_entry(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    mark = "SHELLS: dict[str, Shell] = {\n"
    copy.replace("hardware/shells.py", mark, mark + THICK)
    assert len(copy.touched) == 1
    found = copy.python(
        "import n2osim as n2; from n2osim.docs.make_tables import scenario_reference as page\n"
        "b = n2.Bottle.preset('heavy', '12 lb')\n"
        "print(b.name, b.end_thickness, '`thick steel`' in page())"
    )
    assert found.strip() == "thick steel 12 lb 2.5 True"


HALF = """\
    "half": OrificeModel(5, "half of the incompressible flux", "invented for a test", ("halved",)),
"""
HALF_KERNEL = """\
    if model == HALF:
        flux, choked, valid, throat = spi_flux(p0, rho0, T0, p_back)
        return 0.5 * flux, choked, valid, throat
"""
FLUXES = """
from n2osim import fluid, hardware
from n2osim.physics.orifice import orifice_flow
from n2osim.docs.make_tables import scenario_reference as page
s = fluid.state("70 degF", 800.0)
a, b = (orifice_flow(s.p, s.h, 1e5, model).flux for model in ("spi", "half"))
feed = hardware.Feed(hardware.Jets(1, "1 mm"), model="halved")
print(a / b, feed.model, "`half`" in page())
"""


def test_an_orifice_model_is_an_entry_and_a_branch(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    mark = "MODELS: dict[str, OrificeModel] = {\n"
    copy.replace("hardware/orifice_models.py", mark, mark + HALF)
    copy.before("physics/orifice.py", "DEFAULT_MODEL =", 'HALF = MODELS["half"].index\n')
    copy.before("physics/orifice.py", "    if model == HEM:\n        return homog", HALF_KERNEL)
    assert len(copy.touched) == 2
    ratio, model, in_page = copy.python(FLUXES, compiled=False).split()
    assert float(ratio) == pytest.approx(2.0) and (model, in_page) == ("half", "True")


VENT = '''\
@dataclass(frozen=True)
class Vent(Item):
    """Let gas out through a feed, partly open, for ``duration``."""

    duration: Amount = field(DURATION, "how long it lasts")
    feed: str = field(_NAME, "name of the feed that vents", "purge")
    share: Amount = field("fraction", "how far open", 0.5, low=0.0, high=1.0)
    label: str = _label()
    reports = "flowing"

    @property
    def streams(self) -> tuple[Stream, ...]:
        """The feed, partly open."""
        return (Stream(self.feed, ((0.0, self.share),), key=("feed",)),)


'''
VENTED = """
import json
import n2osim as n2
from n2osim.scenario.file import loads
from n2osim.docs.make_tables import scenario_reference as page
text = '''
schema = 1
[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "9 lb"
start = "80 degF"
[feeds.purge]
jets = { count = 1, bore = "0.02 in" }
model = "spi"
[model]
nodes_per_layer = 1
inside_coefficient = 0
outside_coefficient = 0
[[schedule]]
kind = "vent"
duration = "0.05 s"
share = "25 %"
[[schedule]]
kind = "purge"
duration = "0.05 s"
'''
scenario = loads(text)
assert loads(scenario.to_toml()) == scenario
assert scenario.replace("schedule.vent0.share", "50 %").schedule[0].share == 0.5
run = n2.simulate(scenario)
study = n2.run_ensemble([scenario], executor="serial", outputs=["vent0.used_kg"])
print(json.dumps({
    "vent": run.get("vent0.used"), "purge": run.get("purge0.used"),
    "study": float(study["vent0.used_kg"][0]), "kind": run.segments[0].kind,
    "text": run.summary(), "page": 'kind = "vent"' in page(),
}))
"""


def test_a_schedule_item_is_one_class(tmp_path: Path) -> None:
    """Before, a vent took 15 files and 27 places and reported as a refill."""
    copy = Copy(tmp_path)
    copy.before("scenario/schedule.py", "@dataclass(frozen=True)\nclass Rest(Item):", VENT)
    line = "from .scenario.schedule import Weigh as Weigh\n"
    copy.replace("__init__.pyi", line, "from .scenario.schedule import Vent as Vent\n" + line)
    assert len(copy.touched) <= 3
    found = json.loads(copy.python(VENTED, compiled=False))
    assert found["kind"] == "vent" and found["page"]
    assert 0.0 < found["vent"] == found["study"]
    assert found["vent"] == pytest.approx(0.25 * found["purge"], rel=0.02)
    assert "vent" in found["text"].lower()


SEEN = """
import numpy as np
import n2osim as n2
from n2osim.engine import layout as L
from n2osim.engine.advance import as_objects
from n2osim.engine.integrate import _seen
from n2osim.engine.pack import pack
for sensor in ("bottle", "half"):
    setup = pack(n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"), fill="9 lb", start="80 degF",
        heater=n2.Heater("300 W"), schedule=[n2.Hold("1 s")],
        switch=n2.PressureSwitch("900 psig", "950 psig", sensor, offset=1e4),
    )).setup
    out = np.zeros((1, L.N_OUT))
    out[0, L.O_GAUGE] = 6e6
    print(_seen(as_objects(setup.bottles)[0], np.zeros(20), 0, out, 0))
"""
BRANCH = """\
    if b.line_side == 2:
        p = 0.5 * p
"""


def test_what_a_heater_controller_senses_is_a_name_and_a_branch(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    names = 'SENSORS = ("bottle", "line"'
    copy.replace("hardware/switch.py", names, names + ', "half"')
    copy.before("engine/integrate.py", "    return p + b.offset\n", BRANCH)
    assert len(copy.touched) == 2
    whole, half = (float(x) for x in copy.python(SEEN, compiled=False).split())
    assert (whole, half) == (6.01e6, 3.01e6)


FRONT = '''
@dataclass(frozen=True)
class Front(Air):
    """Air that changes from one temperature to another within an hour."""

    before: Amount = field(AIR, "temperature until then")
    after: Amount = field(AIR, "temperature an hour later")
    at: Amount = field("clock_time", "when it begins", 64800.0, low=0.0, high=DAY)
    index = 1

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s after midnight; float or array)."""
        return _scalar(np.interp(clock, *self.table(0.0, DAY).T))

    def pack(self, record: Any) -> None:
        """Nothing: its table is all there is."""

    def table(self, first: float, last: float) -> np.ndarray:
        """(clock s, temperature K), shape (n, 2)."""
        return np.array([[self.at, self.before], [self.at + 3600.0, self.after]])

    def words(self, show: Show) -> str:
        """In words."""
        return f"{show(self.before, 'temperature')}, then {show(self.after, 'temperature')}"


register_kind("front", Front)
'''
COOLED = """
import json
import n2osim as n2
from n2osim.hardware.air import Front
from n2osim.scenario.file import loads
car = n2.Scenario(
    n2.Bottle.preset("steel", "10 lb"), fill="8 lb", start="90 degF", clock_start="17:59",
    ambient=n2.Ambient(Front("60 degF", "20 degF")), schedule=[n2.Rest("31 min")],
)
assert loads(car.to_toml()) == car
run = car.replace("ambient.temperature.after", "40 degF").run()
print(json.dumps({"air": run.get("air_temperature", "degF")[[0, -1]].tolist(), "losses": [
    car.run().get("rest0.loss", "J"), run.get("rest0.loss", "J")], "text": run.summary()}))
"""


def test_a_kind_of_air_is_one_class(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    names = "Typed, field, inside\n"
    copy.replace("hardware/air.py", names, names.strip() + ", register_kind\n")
    copy.before("hardware/air.py", "\n\nclass AirFunction(Air):", FRONT)
    assert len(copy.touched) == 1
    found = json.loads(copy.python(COOLED, compiled=False))
    assert found["air"] == pytest.approx([60.0, 50.0])
    assert found["losses"][0] > found["losses"][1]
    assert "60.0 degF, then 40.0 degF" in found["text"]
