"""Faults of the embedded service in their fast size: after the next start all that was accepted is there, finished."""

from __future__ import annotations

from tests.faults.faults import FAULTS


def test_what_was_accepted_is_there_and_finished_after_kills_at_random_moments(seed: int) -> None:
    FAULTS["embedded-killed"].run(None, seed).check()


def test_a_demo_killed_at_random_moments_goes_through_at_its_next_start(seed: int) -> None:
    FAULTS["demo-killed"].run(None, seed).check()


def test_a_full_disk_refuses_writes_and_loses_none(seed: int, small_disks: None) -> None:
    FAULTS["disk-full-embedded"].run(None, seed).check()


def test_a_start_without_room_says_so_and_the_next_one_with_room_goes_well(seed: int, small_disks: None) -> None:
    FAULTS["no-room-to-start"].run(None, seed).check()
