"""The main job, shown: an invented town driven through the service's own HTTP API."""

import json
import secrets
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.actor import Actor
from inspections.embedded import EmbeddedService, HomeTaken, PortTaken
from inspections.management.commands.serve import until_told_to_stop
from inspections.services import organisations, people, tokens

TOWN: Final = Path(settings.BASE_DIR) / "fixtures" / "alder_falls.json"
_FOLLOW_SECONDS: Final = 60.0
# A second start finds the town as somebody left it, and leaves it so.
_KEPT_AS_IT_IS: Final = frozenset({"run_already_submitted", "run_is_sealed", "revision_required"})
Document = dict[str, Any]
Say = Callable[[str], None]


class Client:
    """What an integrator's program does: JSON over HTTP with a token, nothing else."""

    def __init__(self, base: str, token: str) -> None:
        self.base = base
        self.token = token

    def call(self, verb: str, path: str, body: Any = None, *, key: str | None = None) -> Document:
        """Send a request and return its answer. Raises CommandError with the problem's own words."""
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        if verb == "POST":
            headers["Idempotency-Key"] = key or str(uuid.uuid4())
        raw = None if body is None else json.dumps(body).encode()
        url = path if path.startswith("http") else f"{self.base}{path}"
        request = urllib.request.Request(url, method=verb, data=raw, headers=headers)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:  # nosec B310 # the service just started
                return dict(json.loads(answer.read(), parse_float=Decimal))
        except urllib.error.HTTPError as error:
            problem = json.loads(error.read())
            if problem["code"] in _KEPT_AS_IT_IS:
                return {}
            raise CommandError(f"{verb} {path}: {problem['detail']} {problem['errors']}") from error

    def follow(self, calculation: Document) -> Document:
        """Ask for a calculation until it ended."""
        until = time.monotonic() + _FOLLOW_SECONDS
        while time.monotonic() < until:
            row = self.call("GET", calculation["url"])
            if row["state"] in ("done", "failed", "superseded"):
                return row
            time.sleep(0.02)
        raise CommandError(f"{calculation['url']} did not end within {_FOLLOW_SECONDS:.0f} s.")


class Command(BaseCommand):
    help = "Load an invented town, drive the main job over HTTP, print what came out, serve until Ctrl-C."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--exit", action="store_true", help="end when everything is shown, instead of serving")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.EMBEDDED:
            raise CommandError("The demo runs on the embedded service; unset PULLBACK_DATABASE_URL.")
        began = time.monotonic()
        try:
            with EmbeddedService(port=options["port"]) as service:
                self._say(f"Pullback serves at {service.address} (data in {settings.HOME}).")
                self._show(service.address)
                self._say(f"\nAll this took {time.monotonic() - began:.1f} s.")
                if not options["exit"]:
                    self._say("Serving until Ctrl-C.")
                    until_told_to_stop()
        except PortTaken as error:
            raise CommandError(f"Port {options['port']} is taken ({error}); name another with --port.") from error
        except HomeTaken as error:
            raise CommandError(f"{error} is served by another process; set PULLBACK_HOME to another.") from error

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()

    def _show(self, base: str) -> None:
        town = json.loads(TOWN.read_text())
        organisation = tokens.organisation_named(name=town["organisation"]) or organisations.organisation_create(
            name=town["organisation"]
        )
        actor = Actor(organisation, client="command", name="demo", through="command")
        token = tokens.token_issue(
            actor=actor,
            client="scheduling",
            scopes=["jobs:write", "runs:write", "records:read", "repair-scopes:write", "audit:read"],
        )
        password = secrets.token_urlsafe(12)
        people.administrator_set(actor=actor, username="admin", password=password)
        client = Client(f"{base}/api/v1", token)
        client_of_urls = Client(base, token)
        laterals = [self._visit(client, client_of_urls, visit) for visit in town["visits"]]
        self._addresses(base, token, password, laterals[0])

    def _visit(self, client: Client, by_url: Client, visit: Document) -> str:
        job = client.call("POST", "/jobs", visit["job"])
        lateral: str = job["property"]["laterals"][0]["id"]
        self._say(f"\n{job['external_ref']}  {job['property']['address']['line1']}, {job['customer']['name']}")
        for run in visit["runs"]:
            self._run(client, by_url, job, run)
        if visit["site"]:
            client.call("PUT", f"/laterals/{lateral}/site", visit["site"])
        self._lateral(client.call("GET", f"/laterals/{lateral}"))
        if visit["scope"]:
            asked = client.call("POST", f"/laterals/{lateral}/repair-scopes", visit["scope"])
            ended = by_url.follow(asked["calculation"])
            if ended["state"] != "done":
                raise CommandError(f"The scope ended {ended['state']}: {ended['error']}")
            self._scope(client.call("GET", f"/repair-scopes/{asked['id']}"))
        return lateral

    def _run(self, client: Client, by_url: Client, job: Document, run: Document) -> None:
        document = {"job": job["id"], "lateral": job["property"]["laterals"][0]["id"], **run["document"]}
        client.call("PUT", f"/runs/{run['id']}", document)
        submitted = client.call("POST", f"/runs/{run['id']}/submit")
        if submitted:
            ended = by_url.follow(submitted["calculation"])
            if ended["state"] != "done":
                raise CommandError(f"The grading ended {ended['state']}: {ended['error']}")
        graded = client.call("GET", f"/runs/{run['id']}/grading")
        way = f"{document['direction']} from {document['start_access']['label']}, {document['units']}"
        self._say(f"  run      {way}: {graded['verdict']} ({graded['scheme']['id']}, 5 worst)")

    def _lateral(self, lateral: Document) -> None:
        unit = "ft" if lateral["units"] == "us" else "m"
        found = f"{len(lateral['defects'])} findings from {len(lateral['runs'])} run(s)"
        self._say(f"  lateral  {lateral['from']} to {lateral['to']} {unit}, {found}: {lateral['grading']['verdict']}")
        for alarm in lateral["alarms"]:
            self._say(f"  ALARM    {alarm['detail']}")

    def _scope(self, scope: Document) -> None:
        if scope["impossible"]:
            self._say(f"  no plan        {scope['impossible']}")
            return
        for plan in scope["plans"]:
            total = plan["total"]
            price = f"{total['low']:,.0f} to {total['high']:,.0f}, likely {total['likely']:,.0f} {scope['currency']}"
            self._say(f"  {plan['name']:<14} {price}")
            unit = "ft" if scope["units"] == "us" else "m"
            for section in plan["sections"]:
                where = f"{section['from']:.1f} to {section['to']:.1f} {unit}"
                self._say(f"      {where}: {section['method'].replace('_', ' ')}, {_what_for(section)}")
            if not plan["sections"]:
                self._say("      nothing to repair at the grade asked for")
        for left in scope["not_curable"]:
            self._say(f"  not curable    {left['defect']}: {left['reason']}")

    def _addresses(self, base: str, token: str, password: str, lateral: str) -> None:
        self._say(
            f"""
API page     {base}/api/v1/docs
Admin site   {base}/admin/   user admin, one-time password {password}
Report       {base}/admin/laterals/{lateral}/report   (sign in first), or:
             curl -H 'Authorization: Bearer {token}' -H 'Accept: application/pdf' \\
               {base}/api/v1/laterals/{lateral}/report -o report.pdf
Token        {token}

Grades, scopes and prices are decision aids: local code, the sewer authority and licensed plumbers and
engineers decide. A recording is not a pressure test. Call before you dig."""
        )


def _what_for(section: Document) -> str:
    """Say what a section is there for."""
    parts = [f"cures {', '.join(section['cures'])}"] if section["cures"] else []
    if section["cures_in_part"]:
        parts.append(f"begins on {', '.join(section['cures_in_part'])}, whose end nobody saw")
    return "; ".join(parts) or "renews the line"
