"""What is written down for those who run the service stays true: pins, compose file, OpenAPI document."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import yaml
from django.core.management import call_command
from openapi_spec_validator import validate

from tests.processes import ROOT


def compose() -> dict[str, object]:
    return dict(yaml.safe_load((ROOT / "docker-compose.yml").read_text()))


def test_every_setting_in_the_compose_file_is_one_the_service_reads() -> None:
    read = (ROOT / "config" / "settings.py").read_text() + (ROOT / "config" / "gunicorn.py").read_text()
    for service in compose()["services"].values():
        for name in service.get("environment", {}):
            if name.startswith("PULLBACK_"):
                assert f'"{name}"' in read, name


def test_the_compose_file_starts_web_and_worker_after_the_migration() -> None:
    services = compose()["services"]
    for name in ("web", "worker"):
        assert services[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}
        assert services[name]["build"] == {"context": ".", "dockerfile": "config/Dockerfile"}
    assert "noeviction" in services["broker"]["command"]


def test_the_dockerfile_copies_only_what_is_there() -> None:
    for line in (ROOT / "config" / "Dockerfile").read_text().splitlines():
        if line.startswith("COPY"):
            assert (ROOT / line.split()[1]).exists(), line


def test_pins_carry_a_hash_each_and_no_host() -> None:
    for name in ("run.txt", "dev.txt", "browser.txt", "security.txt"):
        text = (ROOT / "config" / "requirements" / name).read_text()
        pins = re.findall(r"^[a-z0-9][\w.\[\],-]*==", text, flags=re.MULTILINE)
        assert len(pins) > 10
        assert text.count("--hash=sha256:") >= len(pins)
        assert "://" not in text


def test_the_committed_openapi_document_is_valid_and_what_the_code_says(tmp_path: Path) -> None:
    made = tmp_path / "openapi.json"
    call_command("spectacular", "--format", "openapi-json", "--file", str(made), "--fail-on-warn")
    committed = ROOT / "inspections" / "api" / "openapi.json"
    assert made.read_text() == committed.read_text(), "run: manage.py spectacular (DEVELOPERS.md, add an address)"
    document = json.loads(committed.read_text())
    assert document["openapi"].startswith("3.1")
    validate(document)


def test_the_top_level_holds_what_it_may_and_nothing_else() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "manage.py", "config", "inspections", "scoring"}
    allowed |= {"tests", "fixtures", "docker-compose.yml"}
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= allowed
