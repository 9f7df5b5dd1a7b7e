"""The WSGI application; it does not start on a database that would let sealed records change."""

import os

from django.core.wsgi import get_wsgi_application
from django.db import connection

from logbook.records import freeze

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
application = get_wsgi_application()
freeze.require(connection)
connection.close()
