"""What a worker does with one calculation: claim, compute outside any transaction, write only if still true."""

import logging
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db import InterfaceError, OperationalError, transaction

from inspections import tracing
from inspections.actor import Actor
from inspections.errors import Refused
from inspections.models import Calculation, Organisation
from inspections.services import calculations, closings, deadlocks, grading, laterals, recomputing, scoping
from inspections.services.computed import InputsChanged, LeaseLost, Superseded, Unfinished

logger = logging.getLogger(__name__)

_TRIES_ON_FRESH_INPUTS: Final = 20


@dataclass(frozen=True, slots=True)
class Kind:
    """How one kind of calculation is read and computed, and how its effect is written."""

    compute: Callable[[Calculation], Any]
    write: Callable[[Actor, Calculation, Any], None]
    failed: Callable[[Actor, Calculation, str], None]


KINDS: Final[Mapping[str, Kind]] = {
    "grade_run": Kind(grading.compute, grading.write, grading.failed),
    "reconcile_lateral": Kind(laterals.compute, laterals.write, laterals.failed),
    "recompute": Kind(recomputing.compute, recomputing.write, recomputing.failed),
    "repair_scope": Kind(scoping.compute, scoping.write, scoping.failed),
    "close_scope": Kind(closings.compute, closings.write, closings.failed),
}


def perform(id: uuid.UUID) -> None:
    """Do the work of one calculation, if it is to be had. Its effect is written once, whatever happens here."""
    claimed = calculations.claim(id)
    if claimed is None:
        return
    with tracing.working_for(claimed.request_id):
        began = time.perf_counter()
        _performed(claimed)
        ms = round((time.perf_counter() - began) * 1000, 1)
        beside = {"calculation": str(id), "kind": claimed.kind, "attempt": claimed.attempts, "ms": ms}
        logger.info("calculation", extra=beside)


def _performed(claimed: Calculation) -> None:
    id, actor = claimed.pk, worker(claimed.organisation, claimed.request_id)
    try:
        _compute_and_write(actor, claimed)
    except LeaseLost:
        logger.warning("calculation %s went to another worker", id)
    except Unfinished:
        with transaction.atomic():
            calculations.hand_over(claimed)
    except Superseded as error:
        with transaction.atomic():
            calculations.finish(claimed, state="superseded", superseded_by_id=error.by)
    except (OperationalError, InterfaceError):
        raise  # nothing was written; the lease runs out and the sweep rings again
    except Refused as error:
        _give_up(actor, claimed, error.detail, is_final=True)
    except Exception as error:
        logger.exception("calculation %s failed at attempt %s", id, claimed.attempts)
        _give_up(actor, claimed, f"{type(error).__name__}: {error}", is_final=False)


def worker(organisation: Organisation, request_id: str) -> Actor:
    """Return the actor that the trail shows for what a worker writes."""
    return Actor(organisation=organisation, client="worker", name="worker", through="worker", request_id=request_id)


def _compute_and_write(actor: Actor, claimed: Calculation) -> None:
    kind = KINDS[claimed.kind]
    for _ in range(_TRIES_ON_FRESH_INPUTS):
        result = kind.compute(claimed)
        try:
            with transaction.atomic():
                if not calculations.finish(claimed, state="done", error=None, inputs_sha256=result.inputs_sha256):
                    raise LeaseLost
                kind.write(actor, claimed, result)
            return
        except InputsChanged:
            continue  # somebody sealed more meanwhile: compute from what is there now
        except OperationalError as error:
            if not deadlocks.is_deadlock(error):
                raise
    raise RuntimeError(f"the inputs changed {_TRIES_ON_FRESH_INPUTS} times while computing")


def sweep() -> int:
    """Give up what kills its workers, and ring for all work that waits; return how much waits."""
    for row in calculations.poison():
        error = "Given up: five workers took it and none came back; look at their logs, then run it again."
        _give_up(worker(row.organisation, row.request_id), row, error, is_final=True)
    return calculations.sweep()


def _give_up(actor: Actor, claimed: Calculation, error: str, *, is_final: bool) -> None:
    with transaction.atomic():
        if calculations.put_back(claimed, error, is_final=is_final):
            now = Calculation.objects.get(pk=claimed.pk)
            if now.state == "failed":
                KINDS[claimed.kind].failed(actor, now, error)
