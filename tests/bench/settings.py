"""The service as it is deployed, but for the limits of requests a minute."""

from logbook.config.settings import *  # noqa: F403
from logbook.config.settings import REST_FRAMEWORK

REST_FRAMEWORK["DEFAULT_THROTTLE_CLASSES"] = []
SECURE_SSL_REDIRECT = False
