"""Which request something is done for: said once where work begins, read by logs, events and webhooks.

A request, what a worker computes for it and what a courier sends because of it carry one id.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_current: ContextVar[str] = ContextVar("request_id", default="")


def current() -> str:
    """Return the id of the request that is being worked for; empty where there is none."""
    return _current.get()


@contextmanager
def working_for(request_id: str) -> Iterator[None]:
    """Work for a request inside the block."""
    before = _current.set(request_id)
    try:
        yield
    finally:
        _current.reset(before)
