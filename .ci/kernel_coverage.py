"""Share of the lines of compiled functions in the coverage data of this directory."""

from __future__ import annotations

import ast
from pathlib import Path

import coverage


def kernel_lines(source: str) -> set[int]:
    """Line numbers of the bodies of functions decorated with jit, leaf or entry."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef) and any(
            getattr(d, "id", None) in ("jit", "leaf", "entry") for d in node.decorator_list
        ):
            lines |= set(range(node.body[0].lineno, (node.end_lineno or 0) + 1))
    return lines


def main() -> None:
    """Print what was missed, file by file, and the share."""
    data = coverage.Coverage()
    data.load()
    every, missed = 0, 0
    for path in sorted(Path("n2osim").rglob("*.py")):
        inside = kernel_lines(path.read_text("utf-8"))
        if inside:
            _, statements, _, missing, _ = data.analysis2(str(path))
            every += len(inside & set(statements))
            lost = sorted(inside & set(missing))
            missed += len(lost)
            if lost:
                print(f"{path}: {', '.join(map(str, lost))}")
    print(f"compiled functions: {every} statements, {100.0 * (1.0 - missed / every):.1f} % run")


if __name__ == "__main__":
    main()
