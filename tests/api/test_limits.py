"""How fast a token may ask: counted exactly, said in every answer, no reason to stop when the counter is away."""

from __future__ import annotations

import re
import threading
import time
import uuid
from collections.abc import Callable

import pytest
from pytest_django.fixtures import Settings

from inspections import limits
from inspections.limits import Counter, InMemory, InRedis, Limit
from tests import people
from tests.api.answers import read, refused
from tests.client import Api
from tests.processes import REDIS, services_or_skip, spare_port

HOUR_US = 3_600_000_000


def in_redis() -> Counter:
    services_or_skip()
    return InRedis(REDIS)


COUNTERS = pytest.mark.parametrize("make", [InMemory, in_redis], ids=["in memory", "in Redis"])


@COUNTERS
def test_of_400_at_once_exactly_the_burst_is_let_through(make: Callable[[], Counter]) -> None:
    counter, key = make(), uuid.uuid4().hex
    limit = Limit(interval_us=HOUR_US, burst=137)
    start, allowed = threading.Barrier(400), []

    def ask() -> None:
        start.wait(30)
        for _ in range(50):  # a Redis hit by 400 new connections may take longer than it is waited for
            spent = counter.spend(key, limit)
            if spent is not None:
                break
            time.sleep(0.05)
        allowed.append(spent is not None and spent.is_allowed)

    threads = [threading.Thread(target=ask) for _ in range(400)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(allowed), sum(allowed)) == (400, 137)


@COUNTERS
def test_what_was_spent_is_paid_back_one_by_one(make: Callable[[], Counter]) -> None:
    counter, key = make(), uuid.uuid4().hex
    limit = Limit(interval_us=200_000, burst=3)
    first = [counter.spend(key, limit) for _ in range(4)]
    assert [one is not None and one.is_allowed for one in first] == [True, True, True, False]
    last = first[3]
    assert last is not None and 0 < last.wait_us <= 200_000 and last.retry_after_s == 1
    time.sleep(0.21)
    again = [counter.spend(key, limit) for _ in range(2)]
    assert [one is not None and one.is_allowed for one in again] == [True, False]


@COUNTERS
def test_keys_do_not_share(make: Callable[[], Counter]) -> None:
    counter, limit = make(), Limit(interval_us=HOUR_US, burst=1)
    spent = [counter.spend(uuid.uuid4().hex, limit) for _ in range(3)]
    assert all(one is not None and one.is_allowed for one in spent)


@COUNTERS
def test_headers_count_down_and_say_when_all_is_paid_back(make: Callable[[], Counter]) -> None:
    counter, key = make(), uuid.uuid4().hex
    limit = Limit(interval_us=10_000_000, burst=6)
    spent = [counter.spend(key, limit) for _ in range(7)]
    # One every 10 s and six at once: after the first, five are left and the ten seconds it cost are owed.
    assert [one.headers()["RateLimit"] for one in spent if one] == [
        '"token";r=5;t=10',
        '"token";r=4;t=20',
        '"token";r=3;t=30',
        '"token";r=2;t=40',
        '"token";r=1;t=50',
        '"token";r=0;t=60',
        '"token";r=0;t=60',
    ]
    assert spent[0] is not None and spent[0].headers()["RateLimit-Policy"] == '"token";q=6;w=60'


def test_a_redis_that_is_away_lets_everything_through_and_costs_one_try() -> None:
    counter = InRedis(f"redis://127.0.0.1:{spare_port()}/0")
    began = time.monotonic()
    assert [counter.spend("k", Limit(HOUR_US, 1)) for _ in range(500)] == [None] * 500
    assert time.monotonic() - began < 1.5


@pytest.fixture
def slow(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three requests at once, then one a second."""
    settings.RATE_PER_SECOND, settings.RATE_BURST = 1, 3
    counter = InMemory()
    monkeypatch.setattr(limits, "_counter", lambda url: counter)


def test_who_asks_too_fast_is_told_when_to_go_on(slow: None, firm: people.Firm) -> None:
    api = Api(firm.token())
    answers = [api.get("/jobs") for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200] * 3
    assert re.fullmatch(r'"token";r=2;t=[01]', answers[0].headers["RateLimit"])
    assert answers[0].headers["RateLimit-Policy"] == '"token";q=3;w=3'
    problem = api.get("/jobs")
    refused(problem, 429, "too_many_requests")
    assert problem.headers["Retry-After"] == "1"
    assert problem.headers["RateLimit"].startswith('"token";r=0;t=')


def test_a_token_without_the_scope_spends_too_and_another_token_does_not_pay(slow: None, firm: people.Firm) -> None:
    reader, other = Api(firm.token("records:read")), Api(firm.token())
    for _ in range(3):
        refused(reader.post("/jobs", {}), 403, "scope_missing")
    refused(reader.get("/jobs"), 429, "too_many_requests")
    read(other.get("/jobs"))


def test_what_needs_no_token_is_not_counted(slow: None, firm: people.Firm) -> None:
    api = Api(firm.token())
    for _ in range(5):
        answer = api.get("/")
        assert answer.status_code == 200 and "RateLimit" not in answer.headers


def test_a_rate_of_nought_limits_nothing(settings: Settings, api: Api) -> None:
    settings.RATE_PER_SECOND = 0
    answer = api.get("/jobs")
    assert answer.status_code == 200 and "RateLimit" not in answer.headers


def test_the_default_lets_a_token_ask_at_least_a_hundred_times_a_second(settings: Settings) -> None:
    assert settings.RATE_PER_SECOND >= 100 and settings.RATE_BURST >= 100
