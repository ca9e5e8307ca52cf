"""Write the code that pages and notebooks show as a user's files: ``python .ci/shown.py WHERE``.

Each page and notebook becomes one module, its blocks in order; the package that extends n2osim for
the tests stands beside them. Continuous integration checks their types there, from outside the
tree, against the installed wheel.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", "n2osim/docs/how-to.md", "n2osim/docs/extending.md")
_PYTHON = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)
EXTENSION = "tests/extension/garage/src/garage/__init__.py"


def shown(path: Path) -> str:
    """The Python code of a page or notebook."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".md":
        return "\n".join(_PYTHON.findall(text))
    cells = (c for c in json.loads(text)["cells"] if c["cell_type"] == "code")
    lines = [line for c in cells for line in [*"".join(c["source"]).splitlines(), ""]]
    return "\n".join("" if line.startswith("%") else line for line in lines)


def main(where: Path) -> None:
    """Write everything."""
    where.mkdir(parents=True, exist_ok=True)
    for path in (*(ROOT / p for p in PAGES), *sorted((ROOT / "notebooks").glob("*.ipynb"))):
        name = path.stem.lower().replace("-", "_")
        (where / f"shown_{name}.py").write_text(shown(path) + "\n", encoding="utf-8")
    (where / "garage.py").write_text((ROOT / EXTENSION).read_text("utf-8"), encoding="utf-8")
    mode = {"typeCheckingMode": "standard"}
    (where / "pyrightconfig.json").write_text(json.dumps(mode), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
