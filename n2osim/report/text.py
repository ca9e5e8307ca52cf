"""The report on a run: in short, findings, tables, and cautions once at the end."""

from __future__ import annotations

import html
from collections.abc import Iterable
from typing import TYPE_CHECKING

import n2osim
from n2osim.report.export import closure_of
from n2osim.report.facts import ASSUMED, main_facts, scenario_facts
from n2osim.report.run_tables import tables
from n2osim.report.short import in_short
from n2osim.results.findings import CAUTIONS, CAUTIONS_MARK, Finding
from n2osim.text import Table, heading, pairs_text, wrapped

if TYPE_CHECKING:
    from n2osim.results.run import Run

MOST_FINDINGS, MOST_ROWS = 5, 16
"""Findings told at length (dangers always are) and rows of a table, unless everything is asked
for."""
MORE = "More of everything: summary(full=True), --full. Remedies, tried: run.remedies(), --advise."


def summary(run: Run, system: str = "shop", *, full: bool = False) -> str:
    """What the run says; ``system`` is "shop" or "si", ``full`` leaves nothing out."""
    facts = (scenario_facts if full else main_facts)(run.scenario, system)
    parts = [
        f"{heading(run.scenario.title)}\n"
        + "\n".join(["IN SHORT", *(wrapped(s, "  ") for s in in_short(run, system))]),
        findings_text(run.findings, system, full=full),
        pairs_text(facts) + (f"\n{wrapped(ASSUMED)}" if full and "(assumed)" in str(facts) else ""),
        *(_shown(t, full).text() for t in tables(run, system, full=full)),
        made_by(run) if full else "",
        cautions_text(run.findings if full else (), system),
        "" if full else wrapped(MORE),
    ]
    return "\n\n".join(p for p in parts if p) + "\n"


def _shown(table: Table, full: bool) -> Table:
    """A table as the short report shows it: without what can be missed, no longer than a screen."""
    if full:
        return table
    table = table.brief()
    left = len(table.rows) - MOST_ROWS
    more = f"... and {left} more rows." if left > 0 else ""
    note = " ".join(n for n in (more, table.note) if n)
    return Table(table.title, table.heads, table.rows[:MOST_ROWS], note)


def findings_text(findings: Iterable[Finding], system: str = "shop", *, full: bool = True) -> str:
    """Findings, most severe first; without the cautions that are always given.

    All that is known of each, or (``full`` False) of dangers and the first warnings; further
    warnings, and notes as long as there is room, by their headlines.
    """
    found = [f for f in findings if f.severity != "caution"]
    if not found:
        return "FINDINGS: none"
    lines, left = ["FINDINGS"], 0
    for k, f in enumerate(found):
        room = full or k < MOST_FINDINGS
        if f.severity == "note" and not room:
            left += 1
            continue
        whole = full or f.severity == "danger" or (room and f.severity != "note")
        said = f.told(system, "()") if whole else f.headline(system)
        lines.append(wrapped(f.whose + said, f"  {f.severity.upper():<8}"))
        if f.remedy and whole:
            lines.append(wrapped(f.advice(system), " " * 10 + "> "))
    if left:
        lines.append(f"  ... and {left} more note{'s' if left > 1 else ''}")
    return "\n".join(lines)


def cautions_text(findings: Iterable[Finding] = (), system: str = "shop") -> str:
    """The standing cautions in short, or each of those among ``findings`` at length."""
    standing = [f for f in findings if f.severity == "caution"]
    if not standing:
        return wrapped(CAUTIONS, CAUTIONS_MARK, "  ")
    return "\n".join(["CAUTIONS", *(wrapped(f.said(system), "  - ") for f in standing)])


def made_by(run: Run) -> str:
    """How the run ended and how well it closes, in one line."""
    closed = closure_of(run)
    text = f"Made by n2osim {n2osim.__version__}; ended: {run.ending}. "
    if closed is None:
        return wrapped(text + "Closure: not computed, the run left the equation of state.")
    energy = max(closed["fluid_energy"], closed["shell_energy"])
    return wrapped(
        f"{text}Closure recomputed from the results: mass {closed['mass']:.1e}, energy "
        f"{energy:.1e} of what was moved."
    )


# --- HTML ------------------------------------------------------------------------------------
_MARK = {"danger": "#b3261e", "warning": "#8a5a00", "note": "#3b5b7a"}


def summary_html(run: Run) -> str:
    """The same as a fragment of HTML for notebooks; nothing in it is fetched or executed."""
    said = "".join(f"<li>{html.escape(x)}</li>" for x in in_short(run))
    facts = Table("", (("", ""), ("", "")), tuple(scenario_facts(run.scenario, "shop")))
    parts = [
        f"<h3>{html.escape(run.scenario.title)}</h3><ul>{said}</ul>",
        findings_html(run.findings),
        facts.html(),
        *(t.html() for t in tables(run, "shop")),
        f"<p><small>{html.escape(made_by(run))}</small></p><p>{html.escape(CAUTIONS)}</p>",
    ]
    return '<div class="n2osim-run">' + "".join(parts) + "</div>"


def findings_html(findings: Iterable[Finding]) -> str:
    """Findings as a list; without the cautions that are always given."""
    items = []
    for f in findings:
        if f.severity in _MARK:
            numbers = f" <em>({html.escape(f.numbers())})</em>" if f.numbers() else ""
            remedy = f"<br>{html.escape(f.advice())}" if f.remedy else ""
            items.append(
                f'<li><strong style="color:{_MARK[f.severity]}">{f.severity}</strong>: '
                f"{html.escape(f.whose + f.said())}{numbers}{remedy}</li>"
            )
    return f"<p><strong>Findings</strong></p><ul>{''.join(items) or '<li>none</li>'}</ul>"
