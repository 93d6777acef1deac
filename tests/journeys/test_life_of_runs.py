"""Runs live by their rules whatever is done to them in whatever order: held against a small model of the rules."""

from __future__ import annotations

import uuid
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from inspections.models import Calculation, Event, Run
from inspections.services import trail, work
from tests import builders, people
from tests.api.answers import as_sent, job_of, read, refused
from tests.client import Api

STAR = {"If-Match": "*"}
SEALED = ("submitted", "accepted", "returned")
WORDS = st.sampled_from(["Linden Marsh", "Ash Heath", "Sorrel Quay"])
# Fields and what they may become; None leaves a draft incomplete.
EDITS = st.one_of(
    st.fixed_dictionaries({"inspector": WORDS}),
    st.fixed_dictionaries({"counter_end": st.sampled_from([60, 61, 62, None])}),
    st.fixed_dictionaries({"reached": st.sampled_from(["main", "building", None])}),
    st.fixed_dictionaries({"defects": st.just([])}),
)


@dataclass
class Modelled:
    """What the rules say one run is."""

    id: str
    document: dict[str, Any]
    state: str = "draft"
    revision: int = 1
    content_revision: int = 1
    is_amended: bool = False
    history: list[str] = field(default_factory=lambda: ["created"])
    asked: set[int] = field(default_factory=set)  # content revisions whose grading was asked for

    @property
    def is_complete(self) -> bool:
        return None not in (self.document["counter_end"], self.document["reached"])

    def changed(self, document: dict[str, Any], action: str) -> None:
        self.document = document
        self.revision += 1
        self.content_revision = self.revision
        self.history.append(action)

    def moved(self, state: str) -> None:
        self.state = state
        self.revision += 1
        self.history.append(state)


class LifeOfRuns(RuleBasedStateMachine):
    """Creates, changes, submits, amends, returns, accepts, deletes and repeats, and expects what the rules say."""

    firm: people.Firm
    rival: people.Firm
    runs: Bundle[Modelled] = Bundle("runs")
    sent: Bundle[tuple[str, str, Any, bytes]] = Bundle("sent")

    def __init__(self) -> None:
        super().__init__()
        self.stack = ExitStack()
        self.stack.enter_context(transaction.atomic())
        self.model: dict[str, Modelled] = {}

    @initialize()
    def begin(self) -> None:
        self.api = Api(self.firm.token())
        self.others = Api(self.rival.token())
        self.job = job_of(self.api)

    def teardown(self) -> None:
        try:
            if hasattr(self, "job"):
                self.hold_everything()
        finally:
            transaction.set_rollback(True)
            self.stack.close()

    # --- what is done ---------------------------------------------------------------------------------

    @rule(target=runs, edit=EDITS)
    def create(self, edit: dict[str, Any]) -> Modelled:
        run = Modelled(str(uuid.uuid4()), {**builders.run(self.job["id"]), **edit})
        answer = read(self.api.put(f"/runs/{run.id}", run.document), 201)
        run.document = {**run.document, "lateral": answer["lateral"]}
        self.model[run.id] = run
        self.hold(run)
        return run

    @rule(run=runs)
    def send_again(self, run: Modelled) -> None:
        """The same content changes nothing, in whatever state the run is."""
        if run.state != "gone":
            read(self.api.put(f"/runs/{run.id}", run.document))
            self.hold(run)

    @rule(run=runs, edit=EDITS, seen=st.sampled_from(["newest", "any", "older", "unsaid"]))
    def change(self, run: Modelled, edit: dict[str, Any], seen: str) -> None:
        tags = {"newest": f'"{run.revision}"', "any": "*", "older": f'"{run.revision - 1}"'}
        headers = {"If-Match": tags[seen]} if seen in tags else {}
        answer = self.api.patch(f"/runs/{run.id}", edit, **headers)
        after = {**run.document, **edit}
        if run.state == "gone":
            refused(answer, 404, "not_found")
        elif after == run.document:
            read(answer)
        elif run.state in SEALED:
            refused(answer, 409, "run_is_sealed")
        elif seen == "unsaid":
            refused(answer, 428, "revision_required")
        elif seen == "older":
            refused(answer, 412, "revision_stale")
        else:
            read(answer)
            run.changed(after, "changed")
        self.hold(run)

    @rule(target=sent, run=runs)
    def submit(self, run: Modelled) -> tuple[str, str, Any, bytes]:
        key, path = str(uuid.uuid4()), f"/runs/{run.id}/submit"
        answer = self.api.post(path, key=key)
        if run.state == "gone":
            refused(answer, 404, "not_found")
        elif run.state in ("submitted", "accepted"):
            refused(answer, 409, "run_already_submitted")
        elif not run.is_complete:
            refused(answer, 422, "run_incomplete")
        elif run.state == "returned" and not run.is_amended:
            refused(answer, 409, "run_already_submitted")
        else:
            read(answer, 202)
            run.moved("submitted")
            run.asked.add(run.content_revision)
        self.hold(run)
        return key, path, None, answer.content if answer.status_code == 202 else b""

    @rule(target=sent, run=runs, edit=EDITS)
    def amend(self, run: Modelled, edit: dict[str, Any]) -> tuple[str, str, Any, bytes]:
        key, path = str(uuid.uuid4()), f"/runs/{run.id}/amendments"
        body = {"reason": "Read again.", "changes": edit}
        answer = self.api.post(path, body, key=key)
        after = {**run.document, **edit}
        if run.state == "gone":
            refused(answer, 404, "not_found")
        elif run.state not in SEALED:
            refused(answer, 409, "run_is_draft")
        elif after == run.document:
            refused(answer, 422, "invalid")
        elif None in edit.values():
            refused(answer, 422, "run_incomplete")
        else:
            read(answer, 201)
            run.changed(after, "amended")
            run.asked.add(run.content_revision)
            run.is_amended = True
        self.hold(run)
        return key, path, body, answer.content if answer.status_code == 201 else b""

    @rule(run=runs, verdict=st.sampled_from(["accept", "return"]))
    def review(self, run: Modelled, verdict: str) -> None:
        body = {"reasons": ["Film the bend again."]} if verdict == "return" else None
        answer = self.api.post(f"/runs/{run.id}/{verdict}", body)
        if run.state == "gone":
            refused(answer, 404, "not_found")
        elif run.state != "submitted":
            refused(answer, 409, "run_not_submitted")
        else:
            read(answer)
            run.moved({"accept": "accepted", "return": "returned"}[verdict])
            run.is_amended = False
        self.hold(run)

    @rule(run=runs)
    def delete(self, run: Modelled) -> None:
        answer = self.api.delete(f"/runs/{run.id}", **STAR)
        if run.state == "gone":
            refused(answer, 404, "not_found")
        elif run.state == "draft":
            assert answer.status_code == 204
            run.state = "gone"
            run.history.append("deleted")
        else:
            refused(answer, 409, "run_is_sealed")
        self.hold(run)

    @rule(what=sent)
    def replay(self, what: tuple[str, str, Any, bytes]) -> None:
        """A key that was answered gives that answer again, byte for byte, and does nothing."""
        key, path, body, content = what
        if content:
            answer = self.api.post(path, body, key=key)
            assert (answer.content, answer.headers["Idempotency-Replayed"]) == (content, "true")
            refused(self.api.post(path, {"reason": "other"}, key=key), 422, "idempotency_key_reused")

    @rule()
    def let_workers_work(self) -> None:
        """All that waits is done, more than once: a doubled ring does nothing."""
        for id in list(Calculation.objects.filter(state="queued").values_list("id", flat=True)):
            work.perform(id)
            work.perform(id)

    @rule(run=runs)
    def look_from_elsewhere(self, run: Modelled) -> None:
        refused(self.others.get(f"/runs/{run.id}"), 404, "not_found")
        refused(self.others.post(f"/runs/{run.id}/submit"), 404, "not_found")

    # --- what must hold -------------------------------------------------------------------------------

    def hold(self, run: Modelled) -> None:
        answer = self.api.get(f"/runs/{run.id}")
        if run.state == "gone":
            refused(answer, 404, "not_found")
            return
        found = read(answer)
        assert answer.headers["ETag"] == f'"{run.revision}"'
        assert (found["state"], found["revision"]) == (run.state, run.revision)
        said = as_sent(found)
        assert {name: said[name] for name in ("inspector", "counter_end", "reached")} == {
            name: run.document[name] for name in ("inspector", "counter_end", "reached")
        }
        assert len(said["defects"]) == len(run.document["defects"])

    def hold_everything(self) -> None:
        """Each run has its history in the trail and in the events; each sealed content was graded once at most."""
        assert trail.first_bad_row() is None
        alive = {run.id for run in self.model.values() if run.state != "gone"}
        assert {str(id) for id in Run.objects.values_list("pk", flat=True)} == alive
        for run in self.model.values():
            self.hold(run)
            actions = [
                one["action"]
                for one in read(self.api.get(f"/runs/{run.id}/history?limit=200"))["items"]
                if one["action"] != "graded"
            ]
            assert actions == run.history
            told = Event.objects.filter(subject=f"runs/{run.id}").exclude(type="run.graded").order_by("number")
            assert [type.partition(".")[2] for type in told.values_list("type", flat=True)] == run.history
            asked = Calculation.objects.filter(kind="grade_run", subject=run.id)
            assert {row.subject_revision for row in asked} == run.asked
            assert not asked.filter(state__in=("failed", "running")).exists()


@pytest.mark.django_db
def test_runs_keep_to_their_rules_in_any_order(firm: people.Firm, rival: people.Firm) -> None:
    LifeOfRuns.firm, LifeOfRuns.rival = firm, rival
    size = settings(
        max_examples=100,
        stateful_step_count=50,
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(LifeOfRuns, settings=size)
