"""The notes' own code lies beside the notes and is no part of the package."""

import sys
from pathlib import Path

NOTES = Path(__file__).resolve().parents[2] / "hardware_notes"
if str(NOTES) not in sys.path:
    sys.path.insert(0, str(NOTES))
