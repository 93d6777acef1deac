"""A TypeScript client generated from the committed OpenAPI document compiles strictly and does the main job.

Not among the README's tests: it installs from the npm registry. CI runs it as a step of its own.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from tests.processes import ROOT, manage, running, settings_for, spare_port, wait_for

HERE = Path(__file__).parent


def run(folder: Path, *command: str) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_generated_client_compiles_and_does_the_main_job(tmp_path: Path) -> None:
    for name in ("package.json", "tsconfig.json", "main_job.ts"):
        shutil.copy(HERE / name, tmp_path)
    run(tmp_path, "npm", "install", "--no-audit", "--no-fund", "--no-package-lock")
    document = ROOT / "inspections" / "api" / "openapi.json"
    run(tmp_path, "npx", "openapi-typescript", str(document), "-o", "schema.d.ts")
    run(tmp_path, "npx", "tsc")
    environment, port, log = settings_for(tmp_path / "home"), spare_port(), tmp_path / "log"
    with running(environment, log, sys.executable, "manage.py", "serve", "--port", str(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        said = run(tmp_path, "node", "built/main_job.js", f"http://127.0.0.1:{port}", token)
    assert said.startswith("grade 3; least_cost ")
