"""The servers of the faults, started once, and the seed of all chance, printed with every outcome."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator

import pytest

from tests.faults.servers import missing, no_small_disk
from tests.faults.stack import Servers
from tests.faults.stack import servers as started
from tests.processes import needs


@pytest.fixture(scope="package")
def servers() -> Iterator[Servers]:
    """A PostgreSQL cluster and a Redis of the tests' own."""
    needs(missing())
    with started() as ours:
        yield ours


@pytest.fixture(scope="session")
def seed() -> int:
    """What all chance follows from; PULLBACK_FAULTS_SEED repeats a run."""
    return int(os.environ.get("PULLBACK_FAULTS_SEED", int(time.time())))


@pytest.fixture
def small_disks() -> None:
    """Skip where no small file system can be made."""
    needs(no_small_disk())
