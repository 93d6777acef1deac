"""Workers that are killed, stopped, doubled, absent, or whose clock is wrong."""

from __future__ import annotations

import os
import random
import signal
import time
from collections import Counter
from contextlib import ExitStack
from pathlib import Path
from subprocess import Popen, TimeoutExpired

from tests.faults.load import submitted
from tests.faults.outcome import DRAINED_WITHIN_S, Outcome
from tests.faults.stack import Servers, Stack, children, kill_child, kill_group, stack, until

_CLOCKS = Path(__file__).parent / "clocks"
_STOP_WITHIN_S = 20.0


def drained(made: Stack, runs: list[str], outcome: Outcome) -> None:
    """Wait until all is done, then count what is missing and what exists twice."""
    outcome.drain_s = until(lambda: not made.effects.open_calculations(), DRAINED_WITHIN_S * 2, every=0.2)
    if outcome.drain_s is None:
        outcome.wrong.append(f"{made.effects.open_calculations()} calculations never ended")
    outcome.lost, outcome.doubled = made.effects.graded(runs)
    outcome.wrong += made.verify() + made.wrong


def killed(servers: Servers, seed: int, *, calculations: int, kills: int, broker_kills: int) -> Outcome:
    """Kill workers at random moments of their work, and the broker with all it holds."""
    outcome, chance = Outcome("worker killed, broker killed", seed), random.Random(seed)
    with stack(servers) as made, made.web(PULLBACK_WEB_PROCESSES="1"):
        runs = submitted(made, calculations)
        # Every kill comes after another share of the work, so that they spread over all of it.
        whens = sorted(chance.sample(range(1, calculations * 9 // 10), kills))
        broker_at = set(chance.sample(range(kills), broker_kills))
        with ExitStack() as workers:
            pair = [workers.enter_context(made.worker(2)) for _ in range(2)]
            for number, when in enumerate(whens):
                until(lambda when=when: made.effects.ended_calculations() >= when, 300, every=0.02)
                time.sleep(chance.uniform(0, 0.05))
                victim = chance.randrange(2)
                if number % 3 == 2:
                    kill_child(pair[victim], chance.randrange(2))  # one process of the pool: the pool makes another
                else:
                    kill_group(pair[victim])
                    pair[victim] = workers.enter_context(made.worker(2))
                if number in broker_at:
                    servers.broker.kill()
                    time.sleep(0.3)
                    servers.broker.start()
                outcome.rounds += 1
            drained(made, runs, outcome)
        taken = made.effects.attempts()
        again = sum(count for attempts, count in taken.items() if attempts > 1)
        outcome.note = f"{calculations} calculations, {broker_kills} broker kills, {again} taken more than once"
    return outcome.ended()


def stopped(servers: Servers, seed: int, *, rounds: int, calculations: int) -> Outcome:
    """Send SIGTERM to workers that have plenty to do: they end in time and what they had is done once."""
    outcome, chance = Outcome("SIGTERM to workers under load", seed), random.Random(seed)
    slowest = 0.0
    with stack(servers, PULLBACK_STOP_SECONDS=str(int(_STOP_WITHIN_S))) as made, made.web(PULLBACK_WEB_PROCESSES="1"):
        runs = submitted(made, calculations)
        for number in range(rounds):
            with made.worker(2) as worker:
                share = calculations * (number + 1) // (rounds + 1)
                until(lambda share=share: made.effects.ended_calculations() >= share, 60, every=0.02)
                time.sleep(chance.uniform(0, 0.1))
                pids, began = [worker.pid, *children(worker)], time.monotonic()
                worker.send_signal(signal.SIGTERM)
                slowest = max(slowest, _ended(worker, began, outcome))
                outcome.wrong += [f"process {pid} outlived its worker" for pid in pids if _still_there(pid)]
            outcome.rounds += 1
        outcome.wrong += _stopped_though_it_hangs(made)
        with made.worker(2):
            drained(made, runs, outcome)
        again = sum(count for attempts, count in made.effects.attempts().items() if attempts > 1)
        hard = made.log.read_text().count("did not end within") - 1  # one was made to hang
        outcome.note = f"slowest stop {slowest:.1f} s, {hard} needed the hard limit, {again} taken more than once"
    return outcome.ended()


def _stopped_though_it_hangs(made: Stack) -> list[str]:
    """Let a process of the pool stand still, so that a stop cannot end by itself: the hard limit ends it."""
    with made.worker(2, PULLBACK_STOP_SECONDS="2") as worker:
        begun = made.effects.one(_BEGUN)
        until(lambda: made.effects.one(_BEGUN) > begun, 30, every=0.02)
        pids = children(worker)
        os.kill(pids[0], signal.SIGSTOP)
        worker.send_signal(signal.SIGTERM)
        try:
            worker.wait(12)
        except TimeoutExpired:
            return ["a worker that hangs outlived its hard limit of 2 s"]
        return [f"process {pid} outlived a worker that hung" for pid in pids if _still_there(pid)]


def _ended(worker: Popen[bytes], began: float, outcome: Outcome) -> float:
    try:
        worker.wait(_STOP_WITHIN_S + 10)
    except TimeoutExpired:
        outcome.wrong.append(f"a worker did not end within {_STOP_WITHIN_S + 10:.0f} s after SIGTERM")
    return time.monotonic() - began


def _still_there(pid: int) -> bool:
    """Tell whether a process runs a second after it had to be gone; a zombie does not run."""
    for _ in range(20):
        try:
            os.kill(pid, 0)
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return False
        except OSError:
            return False
        time.sleep(0.05)
    return True


def sweeping(servers: Servers, seed: int, *, calculations: int, absent_s: float) -> Outcome:
    """Let several workers sweep the same work, after a time in which none did and the broker forgot all rings."""
    outcome = Outcome("many sweepers, and none", seed)
    with stack(servers) as made, made.web(PULLBACK_WEB_PROCESSES="1"):
        runs = submitted(made, calculations)
        servers.broker.kill()  # whatever was rung is forgotten: only a sweep finds the work
        servers.broker.start()
        time.sleep(absent_s)
        waiting = made.effects.open_calculations()
        if waiting != calculations:
            outcome.wrong.append(f"{waiting} of {calculations} calculations wait while nobody works")
        with ExitStack() as workers:
            for _ in range(4):
                workers.enter_context(made.worker(1))
            drained(made, runs, outcome)
        attempts = made.effects.attempts()
        if attempts != Counter({1: calculations}):
            outcome.wrong.append(f"nothing failed, and yet work was taken more than once: {dict(attempts)}")
        outcome.rounds, outcome.note = 4, f"{calculations} calculations found by sweeps, each taken once"
    return outcome.ended()


def wrong_clocks(servers: Servers, seed: int, *, calculations: int) -> Outcome:
    """Let one worker's clock run two hours ahead and another's two hours behind, beside one that is right.

    All three meet work whose worker was killed: its lease must neither run out early nor never.
    """
    outcome = Outcome("worker whose clock is two hours off", seed)
    ahead, behind = _shifted(7200), _shifted(-7200)
    with stack(servers) as made, made.web(PULLBACK_WEB_PROCESSES="1"), ExitStack() as workers:
        runs = submitted(made, calculations // 2)
        for clock in (ahead, behind):
            worker = workers.enter_context(made.worker(1, **clock))
            until(lambda: made.effects.one(_RUNNING) > 0 or not made.effects.open_calculations(), 30, every=0.002)
            kill_group(worker)
        for clock in (ahead, behind, {}):
            workers.enter_context(made.worker(1, **clock))
        runs += submitted(made, calculations - calculations // 2)
        drained(made, runs, outcome)
        outcome.wrong += _times_that_are_off(made)
        outcome.rounds, outcome.note = calculations, "one two hours ahead, one behind, one right"
    return outcome.ended()


_BEGUN = "SELECT coalesce(sum(attempts), 0) FROM inspections_calculation"
_RUNNING = "SELECT count(*) FROM inspections_calculation WHERE state = 'running'"
# What a worker writes times into, and which column is the database's own word.
_WRITTEN = {
    "a calculation's end": "SELECT finished_at FROM inspections_calculation",
    "an event": "SELECT time FROM inspections_event WHERE type LIKE '%%.graded'",
    "an audit entry": "SELECT at FROM inspections_auditentry WHERE action = 'graded'",
    "a grading": "SELECT created_at FROM inspections_rungrading",
}


def _times_that_are_off(made: Stack) -> list[str]:
    """Return which records bear a time that no right clock showed."""
    found = []
    for what, statement in _WRITTEN.items():
        count = made.effects.one(
            f"SELECT count(*) FROM ({statement}) t(at) WHERE abs(extract(epoch FROM now() - at)) > 900"
        )
        if count:
            found.append(f"{count} times the time of {what} is that of a wrong clock")
    return found


def _shifted(seconds: int) -> dict[str, str]:
    return {"PYTHONPATH": str(_CLOCKS), "FAULTS_CLOCK_SECONDS": str(seconds)}
