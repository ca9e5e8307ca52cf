"""Plain-language summary of a run, for a terminal or a notebook."""

from __future__ import annotations

import html
from collections.abc import Iterable
from typing import TYPE_CHECKING

from n2osim.report import blocks
from n2osim.results.findings import Finding
from n2osim.text import Table, heading, pairs_text, wrapped

if TYPE_CHECKING:
    from n2osim.results.run import Run

MOST_SENTENCES = 12


def summary(run: Run, system: str = "shop") -> str:
    """What the run says, findings and cautions first; ``system`` is "shop" or "si"."""
    parts = [
        heading(run.scenario.title),
        findings_text(run.findings, system),
        in_short(blocks.sentences(run, system)),
        pairs_text(blocks.facts(run, system)),
        *(table_text(t) for t in blocks.tables(run, system)),
        "\n".join(wrapped(line) for line in blocks.assumptions(run)),
    ]
    return "\n\n".join(p for p in parts if p) + "\n"


def in_short(sentences: list[str]) -> str:
    """The run in words (the first of a long day)."""
    if not sentences:
        return ""
    lines = ["IN SHORT", *(wrapped(x, "  ", "    ") for x in sentences[:MOST_SENTENCES])]
    if len(sentences) > MOST_SENTENCES:
        lines.append(f"  ... and {len(sentences) - MOST_SENTENCES} more in the tables below")
    return "\n".join(lines)


def findings_text(findings: Iterable[Finding], system: str = "shop") -> str:
    """Findings one by one, then the standing cautions."""
    every = list(findings)
    found = [f for f in every if f.severity != "caution"]
    lines = ["FINDINGS" if found else "FINDINGS: none beyond the standing cautions"]
    for f in found:
        head = f"  {f.severity.upper():<8}"
        where = f"{f.bottle}: " if f.bottle and f.bottle != "bottle" else ""
        lines.append(wrapped(where + f.said(system), head, " " * 10))
        numbers = f.numbers(system)
        if numbers:
            lines.append(wrapped(numbers, " " * 10))
        if f.remedy:
            lines.append(wrapped(f.advice(system), " " * 10 + "> ", " " * 12))
    standing = [f for f in every if f.severity == "caution"]
    if standing:
        lines += ["", "CAUTIONS, ALWAYS"]
        lines += [wrapped(f.said(system), "  - ", "    ") for f in standing]
    return "\n".join(lines)


def table_text(table: Table) -> str:
    """A table in columns."""
    return table.text()


# --- HTML ------------------------------------------------------------------------------------
_STYLE = "border-collapse:collapse;margin:0.4em 0 1em 0"
_CELL = "padding:0.15em 0.6em;text-align:{};border-bottom:1px solid #8884"
_MARK = {"danger": "#b3261e", "warning": "#8a5a00", "note": "#3b5b7a", "caution": "#555555"}


def summary_html(run: Run, system: str = "shop") -> str:
    """The same as a fragment of HTML for notebooks; nothing in it is fetched or executed."""
    parts = [f"<h3>{html.escape(run.scenario.title)}</h3>"]
    parts.append(_html_findings(run.findings, system))
    said = "".join(f"<li>{html.escape(x)}</li>" for x in blocks.sentences(run, system))
    parts.append(f"<ul>{said}</ul>")
    parts.append(_html_facts(blocks.facts(run, system)))
    parts += [t.html() for t in blocks.tables(run, system)]
    notes = " ".join(html.escape(x) for x in blocks.assumptions(run))
    parts.append(f"<p><small>{notes}</small></p>")
    return '<div class="n2osim-run">' + "".join(parts) + "</div>"


def _html_facts(facts: Iterable[tuple[str, str]]) -> str:
    rows = "".join(
        f'<tr><th style="{_CELL.format("left")}">{html.escape(head)}</th>'
        f'<td style="{_CELL.format("left")}">{html.escape(text)}</td></tr>'
        for head, text in facts
    )
    return f'<table style="{_STYLE}">{rows}</table>'


def _html_findings(findings: Iterable[Finding], system: str) -> str:
    items = []
    for f in findings:
        where = f" ({html.escape(f.bottle)})" if f.bottle else ""
        numbers = f" <em>{html.escape(f.numbers(system))}</em>" if f.numbers(system) else ""
        remedy = f"<br>{html.escape(f.advice(system))}" if f.remedy else ""
        items.append(
            f'<li><strong style="color:{_MARK[f.severity]}">{f.severity}</strong>{where}: '
            f"{html.escape(f.said(system))}{numbers}{remedy}</li>"
        )
    return f"<p><strong>Findings and cautions</strong></p><ul>{''.join(items)}</ul>"


__all__ = ["findings_text", "summary", "summary_html", "table_text"]
