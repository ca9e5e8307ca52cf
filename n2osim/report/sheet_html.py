"""HTML of the set-up sheet: every text escaped, nothing fetched, nothing executed."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from n2osim.report.sheet_style import CSS
from n2osim.results.findings import Finding
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.report.sheet import SetUpSheet, Tile

_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_WORDS = {"jets", ""}
_STOP = ("refill first", "not advised", "above the band", "not in")


def _safe(text: str) -> str:
    """Text escaped, with the signs that print better than their plain spelling."""
    plain = html.escape(text).replace("degF", "\u00b0F").replace("degC", "\u00b0C")
    return re.sub(r"\bN2O\b", "N\u2082O", plain)


def document(sheet: SetUpSheet) -> str:
    """The whole document."""
    title = _safe(" ".join(sheet.title.split()))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Set-up sheet: {title}</title><style>{CSS}</style></head>\n<body><main>\n"
        + "\n".join(part for part in _parts(sheet, title) if part)
        + "\n</main></body></html>\n"
    )


def _parts(s: SetUpSheet, title: str) -> Iterable[str]:
    yield (
        f'<header><div><p class="kind">Set-up sheet</p><h1>{title}</h1></div>'
        f'<p class="stamp">{_safe(s.date)}<br>{_safe(_maker(s))}</p></header>'
    )
    yield _mind(s.findings, s.system)
    spare = '<div class="tile"></div>' * (-len(s.tiles) % 4)
    yield '<div class="tiles">' + "".join(map(_tile, s.tiles)) + spare + "</div>"
    fitted = _section("What is fitted", _facts(s.facts))
    yield f'<div class="wide"><div>{fitted}</div><div>{_table(s.jets)}</div></div>'
    yield _table(s.weights, "strong")
    passes = _section("Passes per fill", "".join(f"<p>{_safe(p)}</p>" for p in s.passes))
    drawn = "".join(
        f'<figure role="img" aria-label="{_safe(name)}">{svg}</figure>' for name, svg in s.figures
    )
    yield (
        f'<div class="pair"><div>{_table(s.weather)}{passes}</div><section>{drawn}</section></div>'
    )
    items = "".join(f"<li>{_safe(c)}</li>" for c in s.checks)
    yield _section("Before the run", f'<ul class="checks">{items}</ul>' + _SIGN)
    said = "".join(f'<p class="small">{_safe(a)}</p>' for a in s.assumptions)
    yield _section("What this rests on", said)


_SIGN = (
    '<div class="sign"><div>car and bottle number</div><div>checked by</div><div>date, time</div>'
    "<div>air, track</div></div>"
)


def _maker(s: SetUpSheet) -> str:
    import n2osim

    return f"n2osim {n2osim.__version__}"


def _section(title: str, body: str, kind: str = "") -> str:
    opened = f'<section class="{kind}">' if kind else "<section>"
    return f"{opened}<h2>{_safe(title)}</h2>{body}</section>"


def _mind(findings: Iterable[Finding], system: str) -> str:
    """Limits and cautions: what must be mended large, notes and standing cautions small."""
    every = list(findings)
    large = [f for f in every if f.severity in ("danger", "warning")]
    small = [f for f in every if f.severity == "note"]
    dangers = sum(f.count for f in every if f.severity == "danger")
    banner = (
        f'<p class="stopper">Do not run this set-up as it stands: {dangers} '
        f"{'danger' if dangers == 1 else 'dangers'} in the run as simulated.</p>"
        if dangers
        else ""
    )
    found = "".join(_finding(f, system) for f in large)
    if not found:
        found = "<li>No limit is passed in the run as simulated.</li>"
    notes = "".join(_finding(f, system) for f in small)
    noted = f'<ul class="notes">{notes}</ul>' if notes else ""
    always = "".join(
        f"<li>{_safe(f.message[0].upper() + f.message[1:])}</li>"
        for f in every
        if f.severity == "caution"
    )
    body = f'{banner}<ul>{found}</ul>{noted}<ul class="always">{always}</ul>'
    return _section("Limits and cautions", body, "mind")


def _finding(f: Finding, system: str) -> str:
    where = f"{f.bottle}: " if f.bottle and f.bottle != "bottle" else ""
    words = f.said(system)
    text = _safe(where + words[0].upper() + words[1:])
    numbers = f.numbers(system)
    said = f" <em>({_safe(numbers)})</em>" if numbers else ""
    remedy = f"; {_safe(f.advice(system))}" if f.remedy else ""
    head = f'<li class="{f.severity}"><strong>{f.severity.title()}</strong>'
    return f"{head}{text}{said}{remedy}</li>"


def _tile(t: Tile) -> str:
    unit = f" <small>{_safe(t.unit)}</small>" if t.unit else ""
    kind = "tile key" if t.key else "tile"
    return f'<div class="{kind}"><span>{_safe(t.name)}</span><b>{_safe(t.number)}{unit}</b></div>'


def _facts(facts: Iterable[tuple[str, str]]) -> str:
    rows = "".join(f"<tr><th>{_safe(h)}</th><td>{_safe(t)}</td></tr>" for h, t in facts)
    return f'<table class="facts">{rows}</table>'


def _table(table: Table | None, kind: str = "") -> str:
    if table is None:
        return ""
    words = {c for c, (name, _) in enumerate(table.heads) if c == 0 or name in _WORDS}

    def cell(tag: str, c: int, text: str, extra: str = "") -> str:
        names = " ".join(x for x in ("word" if c in words else "", extra) if x)
        return f'<{tag} class="{names}">{text}</{tag}>' if names else f"<{tag}>{text}</{tag}>"

    head = "".join(
        cell("th", c, _safe(n) + (f"<small>{_safe(u)}</small>" if u else ""))
        for c, (n, u) in enumerate(table.heads)
    )
    body = "".join(
        "<tr>"
        + "".join(
            cell("td", c, _safe(x), "stop" if x.startswith(_STOP) else "")
            for c, x in enumerate(row)
        )
        + "</tr>"
        for row in table.rows
    )
    note = f'<p class="small">{_safe(table.note)}</p>' if table.note else ""
    inside = f'<div class="scroll"><table class="{kind}"><tr>{head}</tr>{body}</table></div>{note}'
    return _section(table.title, inside)


def svg_of(draw: Callable[[], Any]) -> str:
    """The figure that ``draw`` makes as an SVG element for inlining (no prolog, no metadata).

    Letters are drawn as outlines, so that it looks the same on every machine; ids are made
    unique, so that several figures can share a page.
    """
    import matplotlib
    from matplotlib.figure import Figure

    axes = draw()
    figure: Figure = axes.figure
    data = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "path", "svg.hashsalt": "n2osim"}):
        figure.savefig(data, format="svg", metadata={"Date": None})
    _close(figure)
    text = data.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.S)
    text = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    return _own_ids(text.strip())


def _own_ids(svg: str) -> str:
    """Ids with a prefix of their own, wherever they are defined or referred to."""
    mark = f"f{len(svg)}"
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{mark}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{mark}-\1)", svg)
    return re.sub(r'href="#([^"]+)"', rf'href="#{mark}-\1"', svg)


def _close(figure: Any) -> None:
    import matplotlib.pyplot as plt

    plt.close(figure)


__all__ = ["document", "svg_of"]
