"""Django's command of this name, as an action: on the account's history, and wrong passwords are forgotten."""

from __future__ import annotations

import getpass
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import CommandError
from django.utils import timezone

from quality.accounts import set_password
from quality.models import Person
from routing.shop_command import ShopCommand

TRIES = 3


class Command(ShopCommand):
    help = "Give a person a new password for the office; wrong ones are forgotten. It stands in the account's history."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username", help="as it stands in the office under People")

    def handle(self, *args: Any, **options: Any) -> str:
        person = Person.objects.filter(username=options["username"]).first()
        if person is None:
            raise CommandError(f"There is no user name “{options['username']}”. They stand in the office under People.")
        self.stdout.write(f"A new password for {person.name} ({person.username}).")
        set_password(person=person, password=self._asked(person), by=None, at=timezone.now())
        return f"{person.name} has a new password."

    def _asked(self, person: Person) -> str:
        for _ in range(TRIES):
            first, again = getpass.getpass(), getpass.getpass("The same again: ")
            if first != again:
                self.stderr.write("The two are not the same; type both again.")
                continue
            try:
                validate_password(first, person)
            except ValidationError as error:
                self.stderr.write("\n".join(error.messages))
            else:
                return first
        raise CommandError("Nothing was changed. Run the command again.")
