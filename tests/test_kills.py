"""What was acknowledged outlives its writer. The rule is our own, no outside source.

Each store's writers are killed 40 times by default; TRAYCALL_KILLS=1000 sets another number. The vocabulary's
layers have their own such test (`tests/vocab/layers/test_files.py`).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.kill_loop import KINDS

HERE = Path(__file__).parent
KILLS = int(os.environ.get("TRAYCALL_KILLS", "40"))

pytestmark = pytest.mark.slow


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes, which this system has not")
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("store", KINDS)
def test_killed_at_any_moment_nothing_acknowledged_is_lost(store: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, HERE / "kill_loop.py", store, tmp_path, str(KILLS), "20"],
        env={**os.environ, "PYTHONPATH": str(HERE.parent)},
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(done.stdout)
    print(store, found)
    assert found["kills"] == KILLS and found["acknowledged"] >= KILLS / 2
    assert found["lost"] == 0 and found["unreadable"] == 0, done.stderr
    assert found["acknowledged"] <= found["kept"] <= found["acknowledged"] + 2 * KILLS
