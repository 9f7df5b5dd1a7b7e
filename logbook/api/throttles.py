"""How many requests one caller may make, counted in the cache and said in standard headers."""

from __future__ import annotations

import time
from typing import Any

from django.core.cache import cache
from rest_framework.request import Request
from rest_framework.throttling import AnonRateThrottle, SimpleRateThrottle, UserRateThrottle


class Counted(SimpleRateThrottle):
    """Counts requests in windows that follow each other.

    The framework keeps the time of every request of the last minute; a number costs the same for
    the thousandth request as for the first, and the cache adds to it without a race.
    """

    used = 0
    reset = 0
    scope = ""
    num_requests: int
    duration: int

    def allow_request(self, request: Request, view: Any) -> bool:
        """Return whether the request is within the quota of its caller."""
        self.request_key = self.get_cache_key(request, view)
        if self.request_key is None or self.rate is None:
            return True
        window, passed = divmod(time.time(), self.duration)
        self.reset = max(1, int(self.duration - passed + 0.999))
        key = f"{self.request_key}_{int(window)}"
        # The window that is over is left to expire; it is asked for no more.
        cache.add(key, 0, timeout=2 * self.duration)
        try:
            self.used = cache.incr(key)
        except ValueError:  # It went between the two lines; the next request counts again.
            self.used = 1
        return self.used <= self.num_requests

    def wait(self) -> float:
        """Return in how many seconds there is a new quota."""
        return float(self.reset)

    @property
    def policy(self) -> str:
        """The quota and its window, as an item of RateLimit-Policy."""
        return f'"{self.scope}";q={self.num_requests};w={self.duration}'

    @property
    def left(self) -> str:
        """What is left of the quota and for how long, as an item of RateLimit."""
        left = max(0, self.num_requests - self.used)
        return f'"{self.scope}";r={left};t={self.reset}'


class Visitors(Counted, AnonRateThrottle):
    """Requests of an address that nobody is logged in at."""

    scope = "visitor"


class Members(Counted, UserRateThrottle):
    """Requests of a person, whatever sends them."""

    scope = "member"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        """Return under what the person's requests are counted; None for a visitor."""
        if not (request.user and request.user.is_authenticated):
            return None
        return super().get_cache_key(request, view)


class RateChecks(Counted, AnonRateThrottle):
    """A request may bring 10,000 settings: few requests do a lot."""

    scope = "rate-check"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        """Return under what the address is counted, for whoever is logged in there too."""
        ident = self.get_ident(request)
        return self.cache_format % {"scope": self.scope, "ident": ident}


class Verifications(Members):
    """Every verification reads the whole log."""

    scope = "verify"
