"""The README's walk with curl, word for word, against a served instance."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

from tests.processes import ROOT, needs, running, settings_for, spare_port, wait_for


def walk() -> str:
    blocks = re.findall(r"```bash\n(.*?)```", (ROOT / "README.md").read_text(), flags=re.DOTALL)
    return next(block for block in blocks if block.startswith("# walk"))


def test_the_walk_with_curl_ends_in_a_report(tmp_path: Path) -> None:
    needs("" if shutil.which("curl") else "curl is not installed")
    environment, port, log = settings_for(tmp_path / "home"), spare_port(), tmp_path / "log"
    script = walk().replace("127.0.0.1:8000", f"127.0.0.1:{port}").replace(".venv/bin/python", sys.executable)
    script = script.replace("-o report.pdf", f"-o {tmp_path}/report.pdf")
    with running(environment, log, sys.executable, "manage.py", "serve", "--port", str(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", script],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
    assert '"name":"least_cost"' in done.stdout
    assert '"verdict":"grade 4 on 97 % seen"' in done.stdout
