"""A typed Python client generated from the committed OpenAPI document walks the README's walk.

Not among the README's tests: its generator and the client's library are pins of their own
(config/requirements/python-client.txt), put into an environment of their own. CI runs it as a step of its own.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.processes import ROOT, manage, running, settings_for, spare_port, wait_for

HERE = Path(__file__).parent
# Lines of JSON are no document that the generator can type; curl and fixtures/clients show how they are sent.
UNTYPED = {
    "GET /api/v1/audit-entries/export",
    "POST /api/v1/imports",
    *(f"POST /api/v1/imports/{kind}" for kind in ("customers", "properties", "access-points", "jobs", "runs")),
}


def run(folder: Path, *command: str) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def test_a_generated_client_walks_the_readmes_walk(tmp_path: Path) -> None:
    python = os.environ.get("PULLBACK_CLIENT_PYTHON") or _environment(tmp_path)
    document = ROOT / "inspections" / "api" / "openapi.json"
    generator = (python, "-m", "openapi_python_client", "generate", "--meta", "none", "--output-path", "client")
    said = run(tmp_path, *generator, "--path", str(document))
    left_out = {
        line.split("parsing ")[1].split(" within")[0] for line in said.splitlines() if "WARNING parsing" in line
    }
    assert left_out == UNTYPED
    shutil.copy(HERE / "walk.py", tmp_path)
    environment, port, log = settings_for(tmp_path / "home"), spare_port(), tmp_path / "log"
    with running(environment, log, sys.executable, "manage.py", "serve", "--port", str(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        said = run(tmp_path, python, "walk.py", f"http://127.0.0.1:{port}", token)
    assert said == "grade 4; least_cost, least_digging, whole_line; invalid\n"


def _environment(folder: Path) -> str:
    """Make an environment of the pins; a service's own never sees them."""
    run(folder, sys.executable, "-m", "venv", "environment")
    python = str(folder / "environment" / "bin" / "python")
    pins = ROOT / "config" / "requirements" / "python-client.txt"
    run(folder, python, "-m", "pip", "install", "-q", "--require-hashes", "-r", str(pins))
    return python
