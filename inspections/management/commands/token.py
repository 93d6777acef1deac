"""One token for one client, printed once."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from inspections.actor import Actor
from inspections.embedded import migrate
from inspections.errors import Refused
from inspections.services import organisations, tokens


class Command(BaseCommand):
    help = "Print one token, nothing else, on standard output. It cannot be shown again."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--organisation", required=True, help="name of the organisation")
        parser.add_argument("--create", action="store_true", help="make the organisation if there is none")
        parser.add_argument("--client", default="default", help="the source of what this token writes")
        parser.add_argument(
            "--scopes",
            default="jobs:write runs:write records:read repair-scopes:write",
            help="scopes, separated by spaces",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.EMBEDDED:
            migrate()
        try:
            with transaction.atomic():
                token = self._issued(options)
        except Refused as error:
            details = "; ".join(fault.detail for fault in error.faults)
            raise CommandError(f"{error.detail} {details}".strip()) from error
        self.stdout.write(token)

    def _issued(self, options: dict[str, Any]) -> str:
        name = options["organisation"]
        organisation = tokens.organisation_named(name=name)
        if organisation is None:
            if not options["create"]:
                raise CommandError(f"There is no organisation called {name}; add --create to make it.")
            organisation = organisations.organisation_create(name=name)
        actor = Actor(organisation=organisation, client="command", name="command line", through="command")
        return tokens.token_issue(actor=actor, client=options["client"], scopes=options["scopes"].split())
