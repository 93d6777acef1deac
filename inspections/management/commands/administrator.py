"""The first person of an organisation, or one who lost their way in."""

import secrets
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.actor import Actor
from inspections.embedded import migrate
from inspections.services import people, tokens


class Command(BaseCommand):
    help = (
        "Make an administrator of an organisation, or give them a new password and let them enrol anew. "
        "Prints a password for one sign-in, nothing else."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--organisation", required=True, help="name of the organisation")
        parser.add_argument("--username", required=True)

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.EMBEDDED:
            migrate()
        organisation = tokens.organisation_named(name=options["organisation"])
        if organisation is None:
            raise CommandError(
                f"There is no organisation called {options['organisation']}; make it with token --create."
            )
        actor = Actor(organisation=organisation, client="command", name="command line", through="command")
        password = secrets.token_urlsafe(12)
        people.administrator_set(actor=actor, username=options["username"], password=password)
        self.stdout.write(password)
