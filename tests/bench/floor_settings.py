"""The floor: the service's database and nothing of its middleware."""

from tests.bench.settings import *  # noqa: F403

MIDDLEWARE = []
ROOT_URLCONF = "tests.bench.floor"
