"""Look of the set-up sheet: one style sheet for screen, phone and two printed pages."""

CSS = """
:root{--ink:#14212b;--soft:#55636e;--rule:#c9d1d6;--pale:#f2f5f6;--accent:#0a5a78;
--danger:#a3290b;--warning:#8a5a00;--note:#2f5d7c}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:#fff;color:var(--ink);font:13px/1.42 "Helvetica Neue",Helvetica,Arial,
"Liberation Sans",sans-serif;font-variant-numeric:tabular-nums;
-webkit-print-color-adjust:exact;print-color-adjust:exact}
main{max-width:800px;margin:0 auto;padding:22px 20px 30px}
header{border-top:7px solid var(--accent);border-bottom:1px solid var(--ink);padding:10px 0 9px;
display:flex;justify-content:space-between;align-items:flex-end;gap:18px}
header h1{font-size:22px;line-height:1.18;margin:0;letter-spacing:-.01em}
header .kind{font-size:11px;font-weight:700;color:var(--accent);margin:0 0 2px}
header .stamp{font-size:11px;color:var(--soft);text-align:right;white-space:nowrap;margin:0}
h2{font-size:13.5px;margin:0 0 5px;padding-bottom:3px;border-bottom:1px solid var(--ink)}
section{margin:14px 0 0;break-inside:avoid}
p{margin:5px 0}
.small{font-size:11px;line-height:1.38;color:var(--soft)}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:0 26px;align-items:start}
.wide{display:grid;grid-template-columns:1.28fr 1fr;gap:0 26px;align-items:start}
.tiles{display:grid;grid-template-columns:repeat(4,1fr);gap:1px;background:var(--rule);
border:1px solid var(--rule);margin-top:14px}
.tile{background:#fff;padding:8px 11px 9px}
.tile.key{background:var(--accent);color:#fff}
.tile b{display:block;font-size:21px;line-height:1.2;font-weight:700;letter-spacing:-.01em;
white-space:nowrap}
.tile b small{font-size:12px;font-weight:600;letter-spacing:0}
.tile span{display:block;font-size:11px;color:var(--soft)}
.tile.key span{color:#d8e9f0}
.mind{border:1.5px solid var(--danger);padding:8px 12px 9px}
.mind h2{border:0;padding:0;color:var(--danger)}
.mind ul{margin:0;padding:0;list-style:none}
.mind li{padding:3px 0 3px 74px;position:relative}
.mind li>strong{position:absolute;left:0;top:3px;width:66px}
.danger>strong{color:var(--danger)}.warning>strong{color:var(--warning)}
.note>strong{color:var(--note)}
.mind .stopper{margin:0 0 5px;padding:5px 9px;background:var(--danger);color:#fff;font-weight:700}
.mind ul.notes{margin-top:4px;columns:2;column-gap:26px;font-size:11.5px;line-height:1.34}
.mind ul.notes li{padding:2px 0 3px;break-inside:avoid}
.mind ul.notes li>strong{position:static;display:inline;margin-right:6px}
.mind em{font-style:normal;color:var(--soft)}
.mind ul.always{margin-top:5px;padding-top:5px;border-top:1px solid var(--rule);columns:2;
column-gap:26px;font-size:11.5px}
.mind ul.always li{padding:1px 0 2px 12px;break-inside:avoid}
.mind ul.always li:before{content:"";position:absolute;left:0;top:8px;width:5px;height:5px;
background:var(--danger)}
table{border-collapse:collapse;width:100%}
th{font-weight:700;font-size:11px;line-height:1.25;text-align:right;vertical-align:bottom;
padding:3px 0 4px 8px;border-bottom:1px solid var(--soft)}
th small{display:block;font-weight:400;color:var(--soft);font-size:10.5px}
td{text-align:right;padding:2.5px 0 2.5px 8px;border-bottom:1px solid var(--rule)}
th:first-child,td:first-child{padding-left:0}
tr:nth-child(even) td{background:var(--pale)}
td:last-child,th:last-child{padding-right:4px}
td:first-child{padding-left:4px}th:first-child{padding-left:4px}
td.word,th.word{text-align:left}
table.strong td:last-child{font-weight:700}
td.stop{color:var(--danger);font-weight:700}
table.facts th{text-align:left;vertical-align:top;width:74px;border-bottom:1px solid var(--rule);
padding:3px 8px 3px 0}
table.facts td{text-align:left;background:none}
figure{margin:0;break-inside:avoid}
figure svg{display:block;width:100%;height:auto}
.checks{list-style:none;margin:0;padding:0;columns:2;column-gap:26px}
.checks li{position:relative;padding:3px 0 4px 21px;break-inside:avoid;
border-bottom:1px solid var(--rule);line-height:1.34}
.checks li:before{content:"";position:absolute;left:1px;top:5px;width:11px;height:11px;
border:1.4px solid var(--ink);border-radius:2px}
.sign{display:grid;grid-template-columns:repeat(4,1fr);gap:0 18px;margin-top:22px}
.sign div{border-top:1px solid var(--ink);font-size:10.5px;color:var(--soft);padding-top:2px}
.scroll{overflow-x:auto}
@media (max-width:640px){
main{padding:12px 13px 24px}
header{display:block}header .stamp{text-align:left;margin-top:5px;white-space:normal}
header h1{font-size:19px}
.pair,.wide{grid-template-columns:1fr}
.tiles{grid-template-columns:1fr 1fr}
.mind ul.always,.mind ul.notes,.checks{columns:1}
.mind li{padding-left:0}.mind li>strong{position:static;display:block;width:auto}
.sign{grid-template-columns:1fr 1fr;row-gap:24px}
th{font-size:10.5px}td{padding-left:5px}th{padding-left:5px}
}
@page{size:auto;margin:11mm 12mm 10mm}
@media print{
body{font-size:11.2px;line-height:1.36}
main{max-width:none;padding:0}
header{padding:7px 0 6px}header h1{font-size:19px}
section{margin-top:10px}.tiles{margin-top:10px}
.tile b{font-size:18px}
.small,.tile span,.mind ul.always,.mind ul.notes{font-size:9.8px}
th{font-size:9.8px}th small{font-size:9.4px}td{padding-top:1.8px;padding-bottom:1.8px}
.pair,.wide{break-inside:avoid}
}
"""

__all__ = ["CSS"]
