"""The JSON Schema of the installation file, published beside the package so that editors complete and check it."""

import json
from pathlib import Path

from oxlatch_tools.installation import Installation

SCHEMA_PATH = Path(__file__).parent / "installation.schema.json"


def schema_text() -> str:
    """The schema as text, the same bytes on every run."""
    schema = Installation.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "oxlatch installation file"
    return json.dumps(schema, indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    SCHEMA_PATH.write_text(schema_text(), encoding="utf-8")
