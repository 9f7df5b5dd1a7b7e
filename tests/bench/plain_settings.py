"""The settings of the service with `plain` among its addresses, and quotas that nobody reaches."""

from logbook.config.settings import *  # noqa: F403
from logbook.config.settings import REST_FRAMEWORK

SECURE_SSL_REDIRECT = False

ROOT_URLCONF = "tests.bench.plain"
REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"] = dict.fromkeys(
    REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"], "100000000/min"
)
