"""Results as tables elsewhere: HTML for notebooks, pandas where it is installed."""

from __future__ import annotations

import html
import importlib
from collections.abc import Mapping, Sequence
from typing import Any

from n2osim.errors import N2OSimError


def extra(module: str) -> Any:
    """A module of the ``tables`` extra; N2OSimError with the remedy where it is not installed."""
    try:
        return importlib.import_module(module)
    except ImportError as problem:
        raise N2OSimError(f"{module} is not installed: pip install 'n2osim[tables]'") from problem


def dataframe(rows: Sequence[Mapping[str, Any]], index: str | Sequence[str]) -> Any:
    """Rows as a pandas DataFrame with these columns as its index."""
    keys = index if isinstance(index, str) else list(index)
    return extra("pandas").DataFrame(list(rows)).set_index(keys)


def html_table(head: Sequence[str], body: Sequence[Sequence[str]], caption: str = "") -> str:
    """A plain HTML table; texts are escaped."""
    top = "".join(f"<th>{html.escape(h)}</th>" for h in head)
    rows = "".join(
        "<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in row) + "</tr>" for row in body
    )
    above = f"<p>{html.escape(caption)}</p>" if caption else ""
    return f"{above}<table><tr>{top}</tr>{rows}</table>"


def html_list(lines: Sequence[str]) -> str:
    """Lines as an HTML list, nothing where there are none."""
    items = "".join(f"<li>{html.escape(x)}</li>" for x in lines)
    return f"<ul>{items}</ul>" if items else ""


__all__ = ["dataframe", "extra", "html_list", "html_table"]
