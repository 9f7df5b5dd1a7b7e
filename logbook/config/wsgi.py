"""The WSGI application; it does not start on a database that would let sealed records change."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.urls import reverse

from logbook.records.sealing import freeze

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
application = get_wsgi_application()
freeze.require(connection)
if connection.vendor == "sqlite":
    # With its last connection SQLite takes the files -wal and -shm away, and on a full disk it can
    # make none for the next one. With one that stays open, reading goes on there.
    standing = connection.get_new_connection(connection.get_connection_params())
    standing.execute("SELECT 1 FROM sqlite_master").fetchall()
connection.close()

# What stands for as long as the worker is not looked through again at each collection: it would
# hold up a request, now and then, for longer than the request takes.
reverse("login")  # loads the views
gc.collect()
gc.freeze()
