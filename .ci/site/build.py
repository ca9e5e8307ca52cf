"""Build the documentation site: ``python .ci/site/build.py [DIRECTORY]`` (needs the extra docs).

Pages are n2osim/docs, README, DEVELOPERS and the notebooks; the API comes from the docstrings of
the names in n2osim/__init__.pyi. Any warning fails, a link that leads nowhere included.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PAGES = "how-to measure scenario-file quantities model verification glossary cautions"
AFTER = "extending changelog citation developers"
FIGURE = re.compile(r"(!\[[^]]*\]\(figures/\w+)\.png\)")
TWICE = r"\1.png){.only-light}\n\1-dark.png){.only-dark}"
"""A figure for light pages and one for dark ones: the theme shows one of them."""
TITLES = {
    "hardware": "Describing a car",
    "scenario": "Scenario and schedule",
    "results": "Runs",
    "answers": "Answers",
    "studies": "Studies",
    "fit": "Logs and fits",
    "other": "Errors and the rest",
}


def gather(where: Path) -> None:
    """Everything that becomes a page or is linked from one."""
    keep = shutil.ignore_patterns("*.py", "*.pyc", "__pycache__")
    shutil.copytree(ROOT / "n2osim" / "docs", where, ignore=keep)
    shutil.copytree(ROOT / "notebooks", where / "notebooks")
    shutil.copy(ROOT / "LICENSE", where / "LICENSE.txt")
    for source, name in (("README.md", "index.md"), ("DEVELOPERS.md", "developers.md")):
        text = (ROOT / source).read_text(encoding="utf-8")
        text = text.replace("](n2osim/docs/", "](").replace("](DEVELOPERS.md", "](developers.md")
        (where / name).write_text(text.replace("](LICENSE)", "](LICENSE.txt)"), encoding="utf-8")
    command = "from n2osim.docs.make_figures import main; main(Path(sys.argv[1]), dark=True)"
    command = f"import sys; from pathlib import Path; {command}"
    subprocess.run([sys.executable, "-c", command, str(where / "figures")], cwd=ROOT, check=True)
    for page in where.glob("*.md"):  # what lies outside the pages is named there, not linked
        text = page.read_text(encoding="utf-8")
        text = re.sub(r"\[([^]]+)\]\(\.\./[^)]*\)", r"\1", text)
        page.write_text(FIGURE.sub(TWICE, text), encoding="utf-8")
    groups = public_names()
    for name, paths in groups.items():
        (where / f"api-{name}.md").write_text(api_page(TITLES[name], paths), encoding="utf-8")
    contents = [*PAGES.split(), *(f"api-{name}" for name in groups), *AFTER.split()]
    listed = "\n".join(["", "```{toctree}", ":hidden:", "", *contents, "```", ""])
    with (where / "index.md").open("a", encoding="utf-8") as index:
        index.write(listed)


def public_names() -> dict[str, list[tuple[str, str]]]:
    """Folder -> (module, name) of every class and function that hangs on the package."""
    groups: dict[str, list[tuple[str, str]]] = {name: [] for name in TITLES}
    stub = ast.parse((ROOT / "n2osim" / "__init__.pyi").read_text(encoding="utf-8"))
    for node in stub.body:
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            folder = node.module.split(".")[0]
            group = groups[folder if folder in groups else "other"]
            group += [(f"n2osim.{node.module}", alias.name) for alias in node.names]
    return groups


def api_page(title: str, names: list[tuple[str, str]]) -> str:
    """A page that shows these names from their docstrings."""
    shown = {True: ".. autoclass:: {}.{}\n   :members:\n", False: ".. autofunction:: {}.{}\n"}
    entries = [shown[name[0].isupper()].format(module, name) for module, name in names]
    return "\n".join([f"# {title}", "", "```{eval-rst}", *entries, "```", ""])


def main(target: Path) -> int:
    """Build; returns the exit status of Sphinx."""
    with tempfile.TemporaryDirectory() as made:
        source = Path(made) / "source"
        gather(source)
        command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html"]
        command += ["-c", str(HERE), str(source), str(target)]
        environment = os.environ | {"N2OSIM_ROOT": str(ROOT)}
        return subprocess.run(command, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1] if len(sys.argv) > 1 else ROOT / "build" / "site").resolve()))
