"""Plays the tests whole of which the suite plays a share. Run: python -m tests.long.whole [words for pytest]"""

import os
import pathlib
import subprocess
import sys

from tests.shares import WHOLE

HOME = pathlib.Path(__file__).resolve().parents[2]
SHARED = "from tests.shares import "


def files() -> list[str]:
    """Every test file that plays a share."""
    found = (HOME / "tests").rglob("test_*.py")
    return [str(one) for one in sorted(found) if SHARED in one.read_text(encoding="utf-8")]


if __name__ == "__main__":
    command = [sys.executable, "-m", "pytest", *files(), *sys.argv[1:]]
    sys.exit(
        subprocess.run(command, cwd=HOME, env=os.environ | {WHOLE: "yes"}, check=False).returncode
    )
