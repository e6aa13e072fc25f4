"""Load the demo shop into an empty database and say how to sign in."""

from __future__ import annotations

import os
import pwd
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.core.management.base import CommandError
from django.utils import timezone

from quality.accounts import close_account
from quality.models import Person, Role
from routing.models import Shop
from routing.shop_command import ShopCommand
from shopfloor.demo.anew import NotTheDemo, is_its_name, load_demo_anew, require_the_demo
from shopfloor.demo.loading import NotEmpty, load_demo
from shopfloor.demo.people import PEOPLE, DemoPerson
from shopfloor.demo_check import demo_people_who_can_sign_in
from shopfloor.security_log import demo_was_emptied

NOT_IN_THE_OPEN = (
    "With SHOP_HTTPS=1 others reach this shop, and everybody can read the demo's sign-ins. Nothing was loaded. "
    "Make your own account: manage.py createsuperuser"
)
ALREADY_THERE = "The demo shop is there already; nothing was changed."


class Command(ShopCommand):
    help = (
        "Load the demo shop into an empty database and print its sign-ins. Never touches a shop of your own. With --anew "
        "the demo shop itself is emptied first: every order, drum and record in it is gone."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--if-empty", action="store_true", help="do nothing, without an error, when the database holds a shop"
        )

        parser.add_argument(
            "--close", action="store_true", help="close the accounts whose password or PIN is still the demo's"
        )
        parser.add_argument(
            "--anew", action="store_true", help="empty the demo shop and load it as on the first day; no other shop"
        )
        parser.add_argument(
            "--yes", default="", metavar="NAME", help="with --anew: the shop's name, to say that you mean it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        if options["close"]:
            self._close(now)
            return
        if options["anew"]:
            self._anew(now, typed=options["yes"])
            return
        if settings.HTTPS:
            if options["if_empty"]:
                return
            raise CommandError(NOT_IN_THE_OPEN)
        try:
            load_demo(now=now, today=timezone.localdate(now))
            self.stdout.write("The demo shop is loaded.")
        except NotEmpty as error:
            if not Shop.current().is_demo:
                if options["if_empty"]:
                    return
                raise CommandError(
                    "This database holds a shop already, and the demo would mix with it. Nothing was changed. "
                    "Set SHOP_DATA to an empty folder (or DATABASE_URL to an empty database), migrate, and try again."
                ) from error
            self.stdout.write(ALREADY_THERE)
        self._print_sign_ins()

    def _anew(self, now: datetime, *, typed: str) -> None:
        try:
            require_the_demo()
            if not is_its_name(typed):
                raise CommandError(
                    "Every order, drum, signature, photo and person of this shop would be deleted, for good. Nothing was "
                    f'changed. Say that you mean it: manage.py demo --anew --yes "{Shop.current().name}"'
                )
            load_demo_anew(now=now, today=timezone.localdate(now))
        except NotTheDemo as refused:
            raise CommandError(str(refused)) from refused
        demo_was_emptied(f"command line, {_account()}")
        self.stdout.write(
            "The demo shop is emptied and loaded anew. Everybody signs in again; tablets are added again."
        )
        self._print_sign_ins()

    def _close(self, now: datetime) -> None:
        """Refused while nobody else could open the office afterwards."""
        people = demo_people_who_can_sign_in()
        others = Person.objects.filter(role=Role.ADMINISTRATOR, is_active=True).exclude(
            pk__in=[who.pk for who in people]
        )
        if people and not any(ruler.has_usable_password() for ruler in others):
            raise CommandError(
                "These are the shop's only administrators. Make your own account first: manage.py createsuperuser"
            )
        for person in people:
            close_account(person=person, by=None, at=now)
            self.stdout.write(f"Closed: {person.name} ({person.username})")
        if not people:
            self.stdout.write("No account opens with a password or PIN of the demo; nothing was changed.")

    def _print_sign_ins(self) -> None:
        self.stdout.write(f"{Shop.current().name}: {_address()}\n\n")
        self.stdout.write(f"{'user name':10} {'password':20} {'PIN':8} {'name':22} role")
        there = {person.username: person for person in Person.objects.filter(is_active=True)}
        for row in PEOPLE:
            if row.username in there:
                self.stdout.write(_line(row, there[row.username]))
        self.stdout.write(
            "\nThe floor is shown only on tablets of the shop: sign in to the office as the supervisor and press "
            "“Use this browser as a tablet”."
        )
        self.stdout.write("Everybody can read these sign-ins. Change them before anyone else reaches this machine.")


def _line(row: DemoPerson, person: Person) -> str:
    """A sign-in as it is now: what was changed since is not printed as if it still held."""
    password = row.password if check_password(row.password, person.password) else "(changed)"
    pin = "–" if not person.pin else row.pin if person.pin_version == 1 else "(changed)"
    return f"{person.username:10} {password:20} {pin:8} {person.name:22} {person.get_role_display()}"


def _account() -> str:
    """The account of this machine that the command runs under."""
    try:
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:  # one without a name, as in a container
        return f"account {os.getuid()}"


def _address() -> str:
    """Where the shop answers when it runs as make run starts it."""
    return str(settings.SHOP_URL) or f"http://{os.environ.get('HOST', '127.0.0.1')}:{os.environ.get('PORT', '8000')}/"
