"""The break bench on a page: built for the browser tests from what the commands build it from."""

from __future__ import annotations

from typing import Any

from sim.report import bench_view
from sim.rig.topology import Rig

FRAME = """<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>bench</title>
<style>
:root{color-scheme:light dark;--paper:#fdfdfb;--ink:#1c1f23;--dim:#4a5058;--line:#c4c9cf;
--fill:#f0f1f2;--accent:#1d4f73;--dark:#22262b;--corrupt:#a84c17;--wrong:#65499a;--frozen:#23648f;
--unlocked:#636a1c;--lit:#f4efdc}
@media (prefers-color-scheme:dark){:root{--paper:#14171a;--ink:#eceef0;--dim:#b6bcc3;--line:#485058;
--fill:#20252a;--accent:#9cc7e6;--dark:#000;--corrupt:#e08a52;--wrong:#b79be6;--frozen:#7fb8e0;
--unlocked:#c3c86a;--lit:#d9d4bd}}
body{margin:0;padding:12px;font-family:sans-serif;line-height:1.4;background:var(--paper);
color:var(--ink)}
STYLE</style></head><body><main><h1>Page</h1><section id="bench">BODY</section></main>
<script>SCRIPT</script></body></html>"""


def page(data: dict[str, Any], rigs: list[Rig]) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sim.report"), autoescape=True, undefined=StrictUndefined
    )
    body = environment.get_template("bench.html").render(bench=bench_view.bench(data, rigs))
    filled = FRAME.replace("STYLE", bench_view.style()).replace("SCRIPT", bench_view.script())
    return filled.replace("BODY", body)
