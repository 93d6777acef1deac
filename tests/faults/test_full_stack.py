"""Faults of the full stack in their fast size: what was acknowledged is there, once, whatever is killed."""

from __future__ import annotations

import pytest

from tests.faults.faults import FAULTS
from tests.faults.stack import Servers

pytestmark = pytest.mark.postgresql


def hold(name: str, servers: Servers, seed: int) -> None:
    FAULTS[name].run(servers, seed).check()


def test_every_calculation_ends_once_though_workers_and_broker_are_killed(servers: Servers, seed: int) -> None:
    hold("worker-killed", servers, seed)


def test_clients_that_repeat_themselves_get_one_effect_and_one_answer_though_web_is_killed(
    servers: Servers, seed: int
) -> None:
    hold("web-killed", servers, seed)


def test_no_acknowledged_write_is_lost_when_postgresql_is_killed(servers: Servers, seed: int) -> None:
    hold("postgresql-killed", servers, seed)


def test_writes_go_on_while_the_broker_is_away_or_hangs_and_the_work_follows(servers: Servers, seed: int) -> None:
    hold("broker-away", servers, seed)


def test_connections_that_the_server_cuts_leave_nothing_half_written(servers: Servers, seed: int) -> None:
    hold("connections-cut", servers, seed)


def test_what_waits_too_long_for_a_statement_or_lock_is_told_to_come_again(servers: Servers, seed: int) -> None:
    hold("timeouts", servers, seed)


def test_a_full_disk_under_postgresql_refuses_writes_and_loses_none(
    servers: Servers, seed: int, small_disks: None
) -> None:
    hold("disk-full-postgresql", servers, seed)


def test_workers_told_to_stop_end_in_time_and_their_work_is_done_once(servers: Servers, seed: int) -> None:
    hold("worker-stopped", servers, seed)


def test_web_told_to_stop_answers_what_it_has_begun(servers: Servers, seed: int) -> None:
    hold("web-stopped", servers, seed)


def test_many_sweepers_take_each_work_once_and_none_loses_nothing(servers: Servers, seed: int) -> None:
    hold("sweepers", servers, seed)


def test_only_the_time_of_the_database_counts(servers: Servers, seed: int) -> None:
    hold("wrong-clocks", servers, seed)


def test_receivers_that_hang_drip_redirect_or_flood_delay_nobody(servers: Servers, seed: int) -> None:
    hold("bad-receivers", servers, seed)


def test_of_eight_writers_with_one_etag_one_wins_each_round(servers: Servers, seed: int) -> None:
    hold("one-etag", servers, seed)


def test_fifty_identical_posts_make_one_record_and_one_answer(servers: Servers, seed: int) -> None:
    hold("identical-posts", servers, seed)


def test_opposite_lock_orders_never_show_as_an_error(servers: Servers, seed: int) -> None:
    hold("lock-orders", servers, seed)
