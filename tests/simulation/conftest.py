"""The simulator's modules are scripts as well: put their folder where tests can import from."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
