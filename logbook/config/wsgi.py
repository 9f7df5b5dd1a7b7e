"""The WSGI application; it does not start on a database that would let sealed records change."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.urls import reverse

from logbook.records import freeze

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
application = get_wsgi_application()
freeze.require(connection)
connection.close()

# What stands for as long as the worker is not looked through again at each collection: it would
# hold up a request, now and then, for longer than the request takes.
reverse("login")  # loads the views
gc.collect()
gc.freeze()
