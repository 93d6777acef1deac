"""PUT of whole run documents over HTTP against a bare handler that copies the same rows: documents a second.

`python -m tests.bench.put_run [--quick]`
"""

from __future__ import annotations

from tests.bench import ratios
from tests.bench.documents import encoded, put_request, whole_run
from tests.bench.stage import stage

GOAL = 0.55


def main() -> None:
    """Measure and print."""
    quick = ratios.arguments(__doc__ or "").quick
    count, rounds = (150, 5) if quick else (600, 9)
    with stage() as made:
        floor_port = made.floor()
        body = encoded(whole_run(made.job()["id"]))

        def sent(port: int, number: int = count) -> ratios.Taken:
            return made.taken(port, [put_request("127.0.0.1", made.token, body) for _ in range(number)], 201)

        for port in (floor_port, made.port):
            sent(port, 60)  # connections, plans and code warm
        floor, work = ratios.alternated(lambda: sent(floor_port), lambda: sent(made.port), rounds)
        ratios.report_rate("PUT of a whole run", "documents", floor, work, least=GOAL)


if __name__ == "__main__":
    main()
