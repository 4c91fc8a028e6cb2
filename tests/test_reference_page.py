"""docs/reference.md says what the data say."""

import importlib.util
from pathlib import Path

SCRIPT = Path(__file__).resolve().parent.parent / "scripts" / "write_reference.py"


def test_the_reference_page_is_what_the_data_give():
    spec = importlib.util.spec_from_file_location("write_reference", SCRIPT)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    assert script.PAGE.read_text(encoding="utf-8") == script.page(), "run scripts/write_reference.py"
