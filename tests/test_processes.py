"""Processes that help another end with it, however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

HELPED = """
import multiprocessing, sys, time
from concurrent.futures import ProcessPoolExecutor
from brumal.processes import begin_helper
import os

if __name__ == "__main__":
    pool = ProcessPoolExecutor(
        1, mp_context=multiprocessing.get_context(sys.argv[1]), initializer=begin_helper
    )
    print(pool.submit(os.getpid).result(), flush=True)
    pool.submit(time.sleep, 600)
    time.sleep(600)
"""


def is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{process}/stat").read_text(encoding="utf-8")
    return stat.rsplit(")", 1)[1].split()[0] != "Z"


def test_a_helper_ends_with_a_parent_that_is_killed(tmp_path) -> None:
    script = tmp_path / "helped.py"
    script.write_text(HELPED, encoding="utf-8")
    for method in ("fork", "spawn") if sys.platform == "linux" else ():
        parent = subprocess.Popen(
            [sys.executable, str(script), method], stdout=subprocess.PIPE, text=True
        )
        assert parent.stdout is not None
        helper = int(parent.stdout.readline())
        assert is_alive(helper)
        parent.send_signal(signal.SIGKILL)
        parent.wait()
        for _ in range(600):
            if not is_alive(helper):
                break
            time.sleep(0.1)
        assert not is_alive(helper)
        parent.stdout.close()
