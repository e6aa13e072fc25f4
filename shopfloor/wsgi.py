"""Entry point for the WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
application = get_wsgi_application()

from shopfloor.paper_queue import program  # noqa: E402 - needs the settings

program()
