"""HTML of the set-up sheet, by the template beside this file: every text escaped."""

from __future__ import annotations

import functools
import hashlib
import html
import io
import re
from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.text import printable

if TYPE_CHECKING:
    from n2osim.report.sheet import SetUpSheet

_REFUSED = ("refill first", "jets only", "not advised", "above the band", "not in")
MOST_NOTES = 6


def document(sheet: SetUpSheet) -> str:
    """The whole document."""
    found = {s: [f for f in sheet.findings if f.severity == s] for s in ("danger", "warning")}
    notes = [f for f in sheet.findings if f.severity == "note"]
    return str(
        _template().render(
            sheet=sheet,
            version=n2osim.__version__,
            dangers=sum(f.count for f in found["danger"]),
            large=[*found["danger"], *found["warning"]],
            notes=notes[:MOST_NOTES],
            cautions=[f.said(sheet.system) for f in sheet.findings if f.severity == "caution"],
        )
    )


@functools.cache
def _template() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("n2osim.report", ""), autoescape=True, undefined=StrictUndefined
    )
    made.filters |= {
        "pretty": _pretty,
        "sentence": lambda text: text[:1].upper() + text[1:],
        "refused": lambda text: text.startswith(_REFUSED),
    }
    return made.get_template("sheet.html.jinja")


def _pretty(text: object) -> Any:
    """Text escaped, with the signs that print better than their plain spelling."""
    from markupsafe import Markup

    plain = html.escape(printable(text)).replace("degF", "\u00b0F").replace("degC", "\u00b0C")
    return Markup(re.sub(r"\bN2O\b", "N\u2082O", plain))


def svg_of(figure: Any) -> str:
    """A figure, closed after it, as an SVG element for inlining (no prolog, no metadata).

    Letters are drawn as outlines, so that it looks the same on every machine; ids are made
    unique, so that several figures can share a page.
    """
    import matplotlib
    import matplotlib.pyplot as plt

    data = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "path", "svg.hashsalt": "n2osim"}):
        figure.savefig(data, format="svg", metadata={"Date": None})
    plt.close(figure)
    text = data.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", text, flags=re.S)
    text = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    return _own_ids(text.strip())


def _own_ids(svg: str) -> str:
    """Ids with a prefix of their own, wherever they are defined or referred to."""
    mark = "f" + hashlib.sha256(svg.encode("utf-8")).hexdigest()[:8]
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{mark}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{mark}-\1)", svg)
    return re.sub(r'href="#([^"]+)"', rf'href="#{mark}-\1"', svg)
