"""The pieces of the calibration share a file that lies beside them; tests are no package, so its folder is named."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
