"""GET of whole runs over HTTP against bare handlers that send a document made by one SQL statement: requests a second.

`python -m tests.bench.get_run [--quick]`

Two floors: the document put together from the run's rows, and, harder, the text as it is kept whole.
"""

from __future__ import annotations

import random
import uuid

from tests.bench import ratios
from tests.bench.documents import request, whole_run
from tests.bench.stage import Stage, stage

GOAL, GOAL_304 = 0.75, 0.85
RUNS = 200


def main() -> None:
    """Measure and print."""
    quick = ratios.arguments(__doc__ or "").quick
    count, rounds = (300, 5) if quick else (1500, 9)
    with stage() as made:
        floor_port = made.floor()
        ids = [_run(made, made.job()["id"]) for _ in range(20 if quick else RUNS)]

        def asked(path: str, port: int, status: int = 200, **headers: str) -> ratios.Taken:
            chosen = random.Random(1).choices(ids, k=count)
            sent = [request("GET", f"{path}/{id}", "127.0.0.1", made.token, **headers) for id in chosen]
            return made.taken(port, sent, status)

        def floor() -> ratios.Taken:
            return asked("/rows", floor_port)

        def text() -> ratios.Taken:
            return asked("/text", floor_port)

        def work() -> ratios.Taken:
            return asked("/api/v1/runs", made.port)

        def known() -> ratios.Taken:
            return asked("/api/v1/runs", made.port, 304, If_None_Match='"1"')

        for warm in (floor, text, work, known):
            warm()
        ratios.report_rate("GET of a whole draft", "requests", *ratios.alternated(floor, work, rounds), least=GOAL)
        ratios.report_rate("304 of a draft", "requests", *ratios.alternated(floor, known, rounds), least=GOAL_304)
        ratios.report_rate("GET, floor kept whole", "requests", *ratios.alternated(text, work, rounds), least=GOAL)


def _run(made: Stage, job: str) -> str:
    id = str(uuid.uuid4())
    status, answer = made.caller.call("PUT", f"/runs/{id}", whole_run(job))
    if status != 201:
        raise RuntimeError(f"the run was not taken: {answer}")
    return id


if __name__ == "__main__":
    main()
