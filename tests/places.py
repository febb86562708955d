"""Where the things that tests read lie."""

from pathlib import Path

TESTS = Path(__file__).parent
ROOT = TESTS.parent
PACKAGE = ROOT / "adapterlab"
DEMO = ROOT / "data" / "demo"
NETLISTS = TESTS / "netlists"
PUBLISHED = TESTS / "published"
