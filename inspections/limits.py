"""How fast a token may ask: a steady rate with a burst, counted exactly, however many ask at once.

The generic cell rate algorithm (GCRA): one number a token, the time at which all it spent is paid back. Where the
broker is Redis the count is one atomic script there, on Redis' clock, for all web processes together; the embedded
service is one process and counts in memory by the same arithmetic. A Redis that is away lets everything through:
limits protect the service, they are no reason to stop it.
"""

import logging
import math
import threading
import time
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Protocol

import redis
from django.conf import settings

logger = logging.getLogger(__name__)

_AWAY_S: Final = 2.0
_SECOND_US: Final = 1_000_000
_MOST_KEPT: Final = 10_000
_SCRIPT: Final = """
local interval, burst = tonumber(ARGV[1]), tonumber(ARGV[2])
local clock = redis.call('TIME')
local now = clock[1] * 1000000 + clock[2]
local paid_at = math.max(tonumber(redis.call('GET', KEYS[1]) or '0'), now)
local free_at = paid_at + interval - burst * interval
if free_at > now then return {0, free_at - now, paid_at - now} end
paid_at = paid_at + interval
redis.call('SET', KEYS[1], string.format('%.0f', paid_at), 'PX', math.ceil((paid_at - now) / 1000) + 1)
return {1, 0, paid_at - now}
"""


@dataclass(frozen=True, slots=True)
class Limit:
    """So many requests at once, and one more every so many microseconds."""

    interval_us: int
    burst: int

    @property
    def window_s(self) -> int:
        """How long a whole burst takes to be paid back."""
        return max(1, math.ceil(self.interval_us * self.burst / _SECOND_US))


@dataclass(frozen=True, slots=True)
class Spent:
    """What became of one request. Times in microseconds."""

    limit: Limit
    is_allowed: bool
    wait_us: int
    owed_us: int

    @property
    def retry_after_s(self) -> int:
        """Whole seconds after which the next request is let through."""
        return max(1, math.ceil(self.wait_us / _SECOND_US))

    def headers(self) -> dict[str, str]:
        """Return the RateLimit headers (draft-ietf-httpapi-ratelimit-headers-10)."""
        left = max(0, self.limit.burst - math.ceil(self.owed_us / self.limit.interval_us))
        reset = math.ceil(self.owed_us / _SECOND_US)
        return {
            "RateLimit-Policy": f'"token";q={self.limit.burst};w={self.limit.window_s}',
            "RateLimit": f'"token";r={left};t={reset}',
        }


class Counter(Protocol):
    """Counts what each key spends."""

    def spend(self, key: str, limit: Limit) -> Spent | None:
        """Count one request; None where it cannot be counted just now."""


class InMemory:
    """Counts for one process."""

    def __init__(self) -> None:
        self._paid_at: dict[str, int] = {}
        self._lock = threading.Lock()

    def spend(self, key: str, limit: Limit) -> Spent:
        """Count one request."""
        with self._lock:
            now = time.monotonic_ns() // 1000
            paid_at = max(self._paid_at.get(key, 0), now)
            free_at = paid_at + limit.interval_us - limit.burst * limit.interval_us
            if free_at > now:
                return Spent(limit, False, free_at - now, paid_at - now)
            self._paid_at[key] = paid_at + limit.interval_us
            if len(self._paid_at) > _MOST_KEPT:
                self._paid_at = {name: at for name, at in self._paid_at.items() if at > now}
            return Spent(limit, True, 0, paid_at + limit.interval_us - now)


class InRedis:
    """Counts for all processes that share a Redis."""

    def __init__(self, url: str) -> None:
        self._redis: Any = redis.Redis.from_url(url, socket_connect_timeout=0.2, socket_timeout=0.2)
        self._script = self._redis.register_script(_SCRIPT)
        self._away_until = 0.0

    def spend(self, key: str, limit: Limit) -> Spent | None:
        """Count one request; None, and nothing is asked for a while, where Redis does not answer."""
        if time.monotonic() < self._away_until:
            return None
        try:
            arguments = [limit.interval_us, limit.burst]
            is_allowed, wait_us, owed_us = self._script(keys=[f"pullback:rate:{key}"], args=arguments)
        except (redis.RedisError, OSError) as error:
            self._away_until = time.monotonic() + _AWAY_S
            logger.warning("rates are not limited just now: Redis does not answer (%s)", type(error).__name__)
            return None
        return Spent(limit, bool(is_allowed), int(wait_us), int(owed_us))


_LOCAL: Final = InMemory()


@cache
def _counter(url: str) -> Counter:
    return InRedis(url) if url.startswith(("redis://", "rediss://")) else InMemory()


def count(key: str, limit: Limit) -> Spent:
    """Count one try of something that must stay limited: by this process alone where Redis does not answer."""
    return _counter(settings.BROKER_URL).spend(key, limit) or _LOCAL.spend(key, limit)


def spend(key: str) -> Spent | None:
    """Count one request of a token; None where nothing is limited."""
    rate = settings.RATE_PER_SECOND
    if not rate:
        return None
    limit = Limit(max(1, _SECOND_US // rate), max(1, settings.RATE_BURST))
    return _counter(settings.BROKER_URL).spend(key, limit)
