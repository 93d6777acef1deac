"""Every fault with its two sizes: fast for every change, full for the command that prints the table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from tests.faults import broker, database, disk, embedded, races, receivers, web, workers
from tests.faults.outcome import Outcome
from tests.faults.stack import Servers

Sizes = Mapping[str, Any]


@dataclass(frozen=True)
class Fault:
    """One fault. `needs_disk`: it needs a small file system of its own."""

    act: Callable[..., Outcome]
    fast: Sizes
    full: Sizes
    is_embedded: bool = False
    needs_disk: bool = False

    def run(self, servers: Servers | None, seed: int, *, is_full: bool = False) -> Outcome:
        """Let it happen, in one of its sizes; on these servers, unless the embedded service needs none."""
        size = self.full if is_full else self.fast
        return self.act(seed, **size) if self.is_embedded else self.act(servers, seed, **size)


FAULTS: Final[Mapping[str, Fault]] = {
    "worker-killed": Fault(
        workers.killed,
        {"calculations": 150, "kills": 5, "broker_kills": 2},
        {"calculations": 4500, "kills": 15, "broker_kills": 3},
    ),
    "web-killed": Fault(web.killed, {"rounds": 15}, {"rounds": 200}),
    "postgresql-killed": Fault(database.killed, {"kills": 1}, {"kills": 3}),
    "broker-away": Fault(broker.away, {"seconds": 5, "hangs_s": 3}, {"seconds": 30, "hangs_s": 15}),
    "connections-cut": Fault(database.cut, {"rounds": 10}, {"rounds": 100}),
    "timeouts": Fault(database.waiting, {"rounds": 1}, {"rounds": 5}),
    "disk-full-postgresql": Fault(disk.database_full, {"rounds": 1}, {"rounds": 3}, needs_disk=True),
    "worker-stopped": Fault(workers.stopped, {"rounds": 2, "calculations": 60}, {"rounds": 24, "calculations": 600}),
    "web-stopped": Fault(web.stopped, {"rounds": 1}, {"rounds": 10}),
    "sweepers": Fault(workers.sweeping, {"calculations": 60, "absent_s": 2}, {"calculations": 500, "absent_s": 20}),
    "wrong-clocks": Fault(workers.wrong_clocks, {"calculations": 24}, {"calculations": 400}),
    "bad-receivers": Fault(receivers.bad, {"events": 5}, {"events": 50}),
    "one-etag": Fault(races.one_etag, {"rounds": 20}, {"rounds": 200}),
    "identical-posts": Fault(races.identical_posts, {"rounds": 1}, {"rounds": 20}),
    "lock-orders": Fault(races.crosswise, {"rounds": 3}, {"rounds": 30}),
    "embedded-killed": Fault(embedded.killed, {"kills": 8}, {"kills": 100}, is_embedded=True),
    "demo-killed": Fault(embedded.demo_killed, {"kills": 1}, {"kills": 20}, is_embedded=True),
    "disk-full-embedded": Fault(disk.embedded_full, {"rounds": 1}, {"rounds": 5}, is_embedded=True, needs_disk=True),
    "no-room-to-start": Fault(disk.start_without_room, {}, {}, is_embedded=True, needs_disk=True),
}
