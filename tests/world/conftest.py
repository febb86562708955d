"""The generator of the simulated world lies beside the demo, outside the package."""

import sys

from places import DEMO

if str(DEMO) not in sys.path:
    sys.path.insert(0, str(DEMO))
