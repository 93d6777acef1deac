"""Generated laterals with a known truth: how well several runs become one list.

Run from the project's root:  python -m tests.bench.reconcile_laterals [--laterals 1000] [--joints]

Every lateral is invented. The oracle knows which sightings belong together and how much readings stray in
its set, and finds the stations by generalised least squares (the best linear unbiased estimate); it is
written apart from the code under test.
"""

import argparse
import math
import random
import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from multiprocessing import Pool

from scoring.reconcile import reconcile
from scoring.types import Access, Defect, Feature, Lateral, Run

FOOT = Decimal("0.3048")
FT = 0.3048
Key = tuple[str, str]


@dataclass(frozen=True)
class Set:
    """One row of the table. Lengths in feet, shares as fractions."""

    name: str
    seed: int
    scale: float
    slip_ft: float
    noise_ft: float
    missed: float
    called_fracture: float
    clock_absent: float
    stopped: float
    goal: float
    from_both_ends_only: bool = False
    twins: bool = False  # two findings of one kind may lie at one joint, at like hours: nobody tells them apart


SETS = (
    Set("ordinary", 11_000, 0.02, 0.25, 0.15, 0.15, 0.10, 0.0, 0.25, 0.995),
    Set("hard", 22_000, 0.03, 0.5, 0.3, 0.25, 0.20, 0.20, 0.5, 0.98),
    Set("no shared landmark", 33_000, 0.02, 0.25, 0.15, 0.15, 0.10, 0.0, 1.0, 0.95, True),
    Set("ordinary, twins", 11_000, 0.02, 0.25, 0.15, 0.15, 0.10, 0.0, 0.25, 0.995, twins=True),
    Set("hard, twins", 22_000, 0.03, 0.5, 0.3, 0.25, 0.20, 0.20, 0.5, 0.98, twins=True),
)

KINDS = (
    ("crack", 22), ("roots", 24), ("displaced_joint", 14), ("fracture", 10), ("infiltration", 9),
    ("open_joint", 6), ("broken", 5), ("wall_deposits", 5), ("hole", 3), ("corrosion", 2),
)  # fmt: skip
DEGREES = {
    "roots": ("hairs", "bundles", "plug"),
    "displaced_joint": ("slight", "moderate", "severe"),
    "open_joint": ("slight", "moderate", "severe"),
    "infiltration": ("damp", "dripping", "flowing"),
}
SPACINGS_FT = (2.0, 2.5, 3.0, 4.0, 5.0)


@dataclass
class Truth:
    """One generated lateral: its runs, and what every sighting really is."""

    length_ft: float
    stations_ft: list[float]
    runs: list[Run] = field(default_factory=list)
    what: dict[Key, int] = field(default_factory=dict)  # (run, ref) -> number of the finding
    joints: dict[Key, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Real:
    """A finding as it is."""

    at_ft: float
    kind: str
    clock: int
    degree: str | None
    at_joint: bool


def generated(row: Set, number: int, with_joints: bool) -> Truth:
    """Lateral `number` of a set; the same every time."""
    dice = random.Random(row.seed + number)
    length = dice.uniform(45.0, 110.0)
    spacing = dice.choice(SPACINGS_FT)
    first = dice.uniform(0.3, spacing)
    joints = [first + i * spacing for i in range(int((length - first - 0.3) / spacing) + 1)]
    real = _findings(dice, length, joints, row.twins)
    truth = Truth(length, [r.at_ft for r in real])
    for name, downstream, reach in _passes(dice, row):
        _record(dice, row, truth, real, joints if with_joints else [], name, downstream, reach)
    return truth


def _findings(dice: random.Random, length: float, joints: Sequence[float], twins: bool) -> list[Real]:
    """5 to 14 findings; without twins two of one kind at one place do not occur, a crew writes them down as one."""
    wanted = dice.randint(5, 14)
    found: list[Real] = []
    while len(found) < wanted:
        new = _finding(dice, length, joints)
        if twins or not any(_one_kind(new, old) and abs(new.at_ft - old.at_ft) < 0.5 for old in found):
            found.append(new)
    return sorted(found, key=lambda r: r.at_ft)


def _one_kind(one: Real, other: Real) -> bool:
    return one.kind == other.kind or {one.kind, other.kind} == {"crack", "fracture"}


def _finding(dice: random.Random, length: float, joints: Sequence[float]) -> Real:
    at_joint = dice.random() < 0.8
    at = dice.choice(joints) if at_joint else dice.uniform(1.0, length - 1.0)
    kind = dice.choices([k for k, _ in KINDS], [w for _, w in KINDS])[0]
    degree = dice.choice(DEGREES[kind]) if kind in DEGREES else None
    return Real(at, kind, dice.randint(1, 12), degree, at_joint)


def _passes(dice: random.Random, row: Set) -> list[tuple[str, bool, float]]:
    """Name, direction and share of the line passed, for every run."""
    if row.from_both_ends_only:
        return [("r1", True, dice.uniform(0.6, 0.9)), ("r2", False, dice.uniform(0.6, 0.9))]
    out = [("r1", dice.random() < 0.5, 1.0)]
    for i in range(dice.randint(1, 3)):
        reach = dice.uniform(0.3, 0.9) if dice.random() < row.stopped else 1.0
        out.append((f"r{i + 2}", dice.random() < 0.5, reach))
    return out


class _Counter:
    """A cable counter: stretched, with two slips, read to a tenth of a foot or 2 cm."""

    def __init__(self, dice: random.Random, row: Set, passed_ft: float) -> None:
        self.dice, self.noise = dice, row.noise_ft
        self.zero = round(dice.uniform(0.0, 3.0), 1)
        self.scale = 1.0 + dice.uniform(-row.scale, row.scale)
        self.slips = [(dice.uniform(0.0, passed_ft), dice.gauss(0.0, row.slip_ft)) for _ in range(2)]
        self.is_metric = dice.random() < 0.5

    def metres(self, distance_ft: float) -> Decimal:
        slipped = sum(jump for at, jump in self.slips if at <= distance_ft)
        read = distance_ft * self.scale + slipped + self.dice.gauss(0.0, self.noise)
        return self.written(max(self.zero + read, self.zero))

    def written(self, feet: float) -> Decimal:
        if self.is_metric:
            return Decimal(round(feet * FT / 0.02)) * Decimal("0.02")
        return Decimal(str(round(feet, 1))) * FOOT


def _record(
    dice: random.Random,
    row: Set,
    truth: Truth,
    real: Sequence[Real],
    joints: Sequence[float],
    name: str,
    downstream: bool,
    reach: float,
) -> None:
    passed = truth.length_ft * reach
    counter = _Counter(dice, row, passed)
    defects: list[Defect] = []
    seen: set[float] = set()
    for number, finding in enumerate(real):
        away = finding.at_ft if downstream else truth.length_ft - finding.at_ft
        if away > passed or dice.random() < row.missed:
            continue
        defect = _seen(dice, row, finding, f"d{len(defects) + 1}", counter.metres(away), downstream)
        truth.what[(name, defect.ref)] = number
        defects.append(defect)
        seen.add(finding.at_ft)
    end = counter.metres(passed)
    features = _joints_seen(dice, row, truth, joints, seen, counter, name, downstream, passed)
    if reach == 1.0 and not downstream:
        features.append(Feature("access_point", end, "CO1"))
    truth.runs.append(
        Run(
            name,
            "downstream" if downstream else "upstream",
            Access("clean_out", "CO1") if downstream else Access("downstream_manhole", "MH-7"),
            counter.written(counter.zero),
            end,
            "stopped" if reach < 1.0 else "main" if downstream else "access_point",
            features=tuple(replace(f, at_m=min(f.at_m, end)) for f in features),
            defects=tuple(replace(d, at_m=min(d.at_m, end)) for d in defects),
        )
    )


def _seen(dice: random.Random, row: Set, real: Real, ref: str, at: Decimal, downstream: bool) -> Defect:
    kind = "fracture" if real.kind == "crack" and dice.random() < row.called_fracture else real.kind
    hour = real.clock if dice.random() < 0.5 else real.clock + dice.choice((-1, 1))
    hour = hour if downstream else -hour
    clock = Decimal((hour - 1) % 12 + 1)
    return Defect(
        ref,
        kind,
        at,
        at_joint=real.at_joint,
        clock_from=None if dice.random() < row.clock_absent else clock,
        degree=real.degree,
    )


def _joints_seen(
    dice: random.Random,
    row: Set,
    truth: Truth,
    joints: Sequence[float],
    seen: set[float],
    counter: _Counter,
    name: str,
    downstream: bool,
    passed: float,
) -> list[Feature]:
    out: list[Feature] = []
    for number, at in enumerate(joints):
        away = at if downstream else truth.length_ft - at
        if away <= passed and at not in seen and dice.random() >= row.missed:
            out.append(Feature("joint", counter.metres(away)))
            truth.joints[(name, f"#{len(out)}")] = number
    return out


# ---- the oracle ------------------------------------------------------------------------------------------


def oracle(row: Set, truth: Truth) -> dict[int, float]:
    """Best linear unbiased stations (m) of all findings, true matches and true doubts known.

    Unknowns: every finding seen, the main, and the upstream end is zero. One big covariance over all
    readings of all runs, solved as a whole.
    """
    runs = _tied_to_zero(truth)
    found = sorted({number for (run, _), number in truth.what.items() if run in {r.id for r in runs}})
    column = {number: i for i, number in enumerate(found)}
    main = len(found)
    normal = [[0.0] * (main + 1) for _ in range(main + 1)]
    right = [0.0] * (main + 1)
    uses_main = False
    for run in runs:
        sign = 1.0 if run.direction == "downstream" else -1.0
        rows = [(float(d.at_m - run.counter_start_m), column[truth.what[(run.id, d.ref)]]) for d in run.defects]
        if run.reached != "stopped":
            end = next((f.at_m for f in run.features if f.kind == "access_point"), run.counter_end_m)
            rows.append((float(end - run.counter_start_m), main if sign > 0 else -1))
        uses_main = uses_main or sign < 0 or run.reached != "stopped"
        weight = _inverse(_reading_covariance(row, run, [r[0] for r in rows]))
        # reading = sign * (station - station of start): station - start, start is 0 or the main
        design = [{c: sign} if c >= 0 else {} for _, c in rows]
        if sign < 0:
            for entry in design:
                entry[main] = entry.get(main, 0.0) + 1.0
        for i, one in enumerate(design):
            for j, other in enumerate(design):
                for a, va in one.items():
                    right[a] += va * weight[i][j] * rows[j][0]
                    for b, vb in other.items():
                        normal[a][b] += va * weight[i][j] * vb
    size = main + 1 if uses_main else main
    solved = _solve([r[:size] for r in normal[:size]], right[:size])
    return {number: solved[i] for number, i in column.items()}


def _tied_to_zero(truth: Truth) -> list[Run]:
    """Runs that true matches and landmarks tie to the upstream end."""
    held: set[object] = {"upstream end"}
    tied: list[Run] = []
    while True:
        more = [r for r in truth.runs if r not in tied and _held(truth, r) & held]
        if not more:
            return tied
        tied.append(more[0])
        held |= _held(truth, more[0])


def _held(truth: Truth, run: Run) -> set[object]:
    ends = {"upstream end"} if run.direction == "downstream" or run.reached != "stopped" else set()
    ends |= {"main"} if run.direction == "upstream" or run.reached == "main" else set()
    return ends | {truth.what[(run.id, d.ref)] for d in run.defects}


def _reading_covariance(row: Set, run: Run, away: Sequence[float]) -> list[list[float]]:
    """Stretch, two slips at unknown places, reading noise and rounding."""
    length = float(run.counter_end_m - run.counter_start_m)
    stretch = row.scale**2 / 3.0  # variance of a stretch drawn evenly within +-scale
    slip = 2.0 * (row.slip_ft * FT) ** 2 / length
    noise = (row.noise_ft * FT) ** 2 + 0.02**2 / 12.0
    return [
        [stretch * a * b + slip * max(min(a, b), 0.0) + (noise if i == j else 0.0) for j, b in enumerate(away)]
        for i, a in enumerate(away)
    ]


def _solve(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Gauss with pivoting."""
    rows = [[*r, v] for r, v in zip(matrix, right, strict=True)]
    n = len(rows)
    for i in range(n):
        pivot = max(range(i, n), key=lambda k: abs(rows[k][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        for k in range(i + 1, n):
            factor = rows[k][i] / rows[i][i]
            if factor:
                rows[k] = [x - factor * y for x, y in zip(rows[k], rows[i], strict=True)]
    out = [0.0] * n
    for i in range(n - 1, -1, -1):
        out[i] = (rows[i][n] - sum(rows[i][k] * out[k] for k in range(i + 1, n))) / rows[i][i]
    return out


def _inverse(matrix: list[list[float]]) -> list[list[float]]:
    n = len(matrix)
    columns = [_solve(matrix, [1.0 if i == j else 0.0 for i in range(n)]) for j in range(n)]
    return [[columns[j][i] for j in range(n)] for i in range(n)]


# ---- counting --------------------------------------------------------------------------------------------


@dataclass
class Count:
    """What is added up over the laterals of a set."""

    laterals: int = 0
    right: int = 0  # pairs of sightings matched and truly one thing
    matched: int = 0
    true: int = 0
    sure_right: int = 0  # the same where nothing was said to be ambiguous
    sure_matched: int = 0
    sure_true: int = 0
    squares: float = 0.0
    oracle_squares: float = 0.0
    sightings: int = 0
    covered: int = 0
    findings: int = 0
    ambiguous: int = 0
    against_order: int = 0
    untied: int = 0
    joints_right: int = 0
    joints_matched: int = 0
    joints_true: int = 0
    seconds: float = 0.0

    def __iadd__(self, other: "Count") -> "Count":
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self


def _pairs(groups: Iterable[Sequence[Key]]) -> set[tuple[Key, Key]]:
    return {(a, b) for group in groups for a in sorted(group) for b in sorted(group) if a < b and a[0] != b[0]}


def _true_groups(what: dict[Key, int]) -> list[list[Key]]:
    out: dict[int, list[Key]] = {}
    for key, number in what.items():
        out.setdefault(number, []).append(key)
    return list(out.values())


def judged(row: Set, truth: Truth, lateral: Lateral) -> Count:
    """Compare a reconciled lateral with the truth."""
    count = Count(laterals=1)
    groups = [[(s.run, s.ref) for s in d.sources] for d in lateral.defects]
    found, true = _pairs(groups), _pairs(_true_groups(truth.what))
    count.right, count.matched, count.true = len(found & true), len(found), len(true)
    doubtful = {k for d, g in zip(lateral.defects, groups, strict=True) if d.is_ambiguous for k in g}
    loose = {p.run for p in lateral.placements if not p.is_tied}
    sure = {p for p in found | true if not any(k in doubtful or k[0] in loose for k in p)}
    count.sure_right, count.sure_matched, count.sure_true = (
        len(found & true & sure), len(found & sure), len(true & sure)
    )  # fmt: skip
    count.untied = len(loose)
    count.findings = len(lateral.defects)
    count.ambiguous = sum(d.is_ambiguous for d in lateral.defects)
    _judge_stations(row, truth, lateral, count)
    count.against_order = _against_order(truth, lateral)
    joint_groups = [
        [k for s in f.sources if (k := (s.run, s.ref)) in truth.joints]
        for f in lateral.features
        if f.feature.kind == "joint"
    ]
    joints, true_joints = _pairs(joint_groups), _pairs(_true_groups(truth.joints))
    count.joints_right, count.joints_matched, count.joints_true = (
        len(joints & true_joints), len(joints), len(true_joints)
    )  # fmt: skip
    return count


def _judge_stations(row: Set, truth: Truth, lateral: Lateral, count: Count) -> None:
    best = oracle(row, truth)
    zero = 0.0 if lateral.datum and lateral.datum.label == "CO1" else truth.length_ft * FT
    for found in lateral.defects:
        if found.station_m is None or found.station_sd_m is None:
            continue
        for source in found.sources:
            number = truth.what[(source.run, source.ref)]
            if number not in best:
                continue
            real = truth.stations_ft[number] * FT
            miss = float(found.station_m) + zero - real
            count.squares += miss**2
            count.oracle_squares += (best[number] - real) ** 2
            count.sightings += 1
            count.covered += abs(miss) <= 1.959964 * float(found.station_sd_m)


def _against_order(truth: Truth, lateral: Lateral) -> int:
    """Pairs of findings at stations in an order that every run which saw both contradicts. Findings at one
    station stand in no order: three runs can contradict each other in a ring."""
    along: dict[Key, float] = {}
    for run in truth.runs:
        sign = 1.0 if run.direction == "downstream" else -1.0
        along |= {(run.id, d.ref): sign * float(d.at_m) for d in run.defects}
    placed = [
        (d.station_m, {s.run: along[(s.run, s.ref)] for s in d.sources})
        for d in lateral.defects
        if d.station_m is not None
    ]
    wrong = 0
    for i, (station, one) in enumerate(placed):
        for further, other in placed[i + 1 :]:
            shared = [r for r in one if r in other]
            wrong += further > station and bool(shared) and all(one[r] > other[r] for r in shared)
    return wrong


def counted(task: tuple[Set, int, int, bool]) -> Count:
    """Generate, reconcile and judge laterals `first` to `last` of a set."""
    row, first, last, with_joints = task
    total = Count()
    for number in range(first, last):
        truth = generated(row, number, with_joints)
        started = time.process_time()
        lateral = reconcile(truth.runs)
        spent = time.process_time() - started
        total += judged(row, truth, lateral)
        total.seconds += spent
    return total


def share(part: float, whole: float) -> float:
    return part / whole if whole else 1.0


def report(row: Set, count: Count) -> list[str]:
    """The row's figures with their goals; a line that starts with FAILS misses its goal.

    Where twins occur most of the wrong pairs are coin tosses between two like findings at one joint; the result
    says of them that they are ambiguous, and `where sure` leaves those out.
    """
    both_ends = row.from_both_ends_only
    precision, recall = share(count.right, count.matched), share(count.right, count.true)
    sure_precision = share(count.sure_right, count.sure_matched)
    sure_recall = share(count.sure_right, count.sure_true)
    rms = math.sqrt(share(count.squares, count.sightings))
    best = math.sqrt(share(count.oracle_squares, count.sightings))
    covered = share(count.covered, count.sightings)
    ambiguous = share(count.ambiguous, count.findings)
    judged_precision = sure_precision if both_ends else precision
    judged_recall = sure_recall if both_ends else recall
    lines = [
        (
            judged_precision >= row.goal,
            f"precision {precision:.4f} (where sure {sure_precision:.4f}), goal {row.goal}",
        ),
        (judged_recall >= row.goal, f"recall {recall:.4f} (where sure {sure_recall:.4f}), goal {row.goal}"),
        (rms <= 1.2 * best, f"station rms {rms:.4f} m, oracle {best:.4f} m: {share(rms, best):.3f}, at most 1.2"),
        (0.93 <= covered <= 0.97, f"95 % intervals cover {covered:.4f}, 0.93 to 0.97"),
        (
            ambiguous <= 0.03 or not row.name.startswith("ordinary"),
            f"ambiguous {ambiguous:.4f}, at most 0.03 in ordinary",
        ),
        (count.against_order == 0, f"orders every run contradicts: {count.against_order}"),
        (True, f"untied runs {count.untied} in {count.laterals} laterals"),
        (True, f"{1000 * share(count.seconds, count.laterals):.1f} ms of processor time a lateral"),
    ]
    if count.joints_true:
        right = count.joints_right
        lines.append((True, f"sound joints: precision {share(right, count.joints_matched):.4f}, "
                            f"recall {share(right, count.joints_true):.4f}"))  # fmt: skip
    return [f"{row.name}: {count.laterals} laterals"] + [
        f"  {'ok   ' if good else 'FAILS'} {text}" for good, text in lines
    ]


def main(arguments: Sequence[str]) -> int:
    """Print the table; exit code 1 if a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--laterals", type=int, default=1000)
    parser.add_argument("--joints", action="store_true", help="runs also write down sound joints")
    parser.add_argument("--set", default="", help="only sets whose name starts so")
    parser.add_argument("--offset", type=int, default=0, help="other laterals: number of the first one")
    asked = parser.parse_args(arguments)
    failed = False
    with Pool(2) as pool:
        for row in SETS:
            if not row.name.startswith(asked.set):
                continue
            ends = range(asked.offset, asked.offset + asked.laterals, 50)
            last = asked.offset + asked.laterals
            tasks = [(row, i, min(i + 50, last), asked.joints) for i in ends]
            total = Count()
            for part in pool.imap(counted, tasks):
                total += part
            lines = report(row, total)
            failed = failed or any(line.startswith("  FAILS") for line in lines)
            print("\n".join(lines), flush=True)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
