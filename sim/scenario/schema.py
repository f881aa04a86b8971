"""The JSON Schema of scenario files, for editors that complete and check while one types.

In: nothing. Out: the schema as plain values, and as the text that lies beside this file.
An editor reads `59.94` as a number and `yes` as a word or as true: the schema takes all of them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sim.scenario.models import ScenarioFile

PATH = Path(__file__).parents[1] / "scenario.schema.json"
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """The schema, generated from the models."""
    made = ScenarioFile.model_json_schema(by_alias=True, mode="validation")
    return {"$schema": DIALECT, **made, "title": "staylit scenario"}


def schema_text() -> str:
    """The schema as it lies in the file: sorted, indented by two spaces."""
    return json.dumps(schema(), indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def write_schema(path: Path = PATH) -> None:
    """Write the file anew."""
    path.write_text(schema_text(), encoding="utf-8")
