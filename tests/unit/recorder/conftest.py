"""Lets the tests of this folder share the scripted hand."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
