from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]
BLOCKED = """
import sys
for name in ("django", "numpy", "scipy", "rest_framework", "celery"):
    sys.modules[name] = None
import studios.thermal
import studios.thermal.units
foreign = {name.partition(".")[0] for name in sys.modules} - set(sys.stdlib_module_names)
print(sorted(name for name in foreign if not name.startswith("_") and sys.modules[name] is not None))
"""


def test_the_thermal_model_needs_nothing_but_python() -> None:
    run = subprocess.run(
        [sys.executable, "-S", "-c", BLOCKED], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert run.returncode == 0, run.stderr
    assert run.stdout.strip() == "['studios']"
