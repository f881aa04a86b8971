"""The break bench on a page: built for the browser tests from what the commands build it from."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sim.report import bench_view
from sim.rig.topology import Rig

FRAME = """<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>bench</title>
<style>
:root{color-scheme:light dark;--paper:#fff;--ink:#1c1f23;--dim:#4a5058;--line:#cbd0d6;--fill:#f0f1f3;
--accent:#3a4a7a;--dark:#15171a;--corrupt:#d9d2c0;--wrong:#cfd6e4;--frozen:#dfe7ea;--unlocked:#efe9dd;
--lit:#fdfdf8}
@media (prefers-color-scheme:dark){:root{--paper:#14171a;--ink:#eef0f2;--dim:#b8bec5;--line:#474e56;
--fill:#1f2429;--accent:#b9c6ef;--dark:#000;--corrupt:#4d463a;--wrong:#3a4458;--frozen:#33444a;
--unlocked:#4a4536;--lit:#2e3236}}
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
