"""Verify an exported audit trail without access to the service: python3 verify_trail.py TRAIL [ANCHOR]

TRAIL is the answer of GET /api/v1/audit-entries/export, ANCHOR what `manage.py anchor_audit` printed earlier; both
are NDJSON. Needs Python 3.9 or newer and nothing else. Ends with 0 when every chain holds, with 1 when one does not.

What is checked: each entry's hash is that of its content and of the hash before it; each record's entries are
numbered 1, 2, 3 ... without a gap; the last line says how many there are; and every head of the anchor that belongs
to this organisation stands in the trail. Without an anchor, entries taken off the end of a chain cannot be missed.
Personal values stand in an entry as SHA-256(salt + value); those not erased since are under `opened` and checked.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

GENESIS = "0" * 64
HASHED = ["previous_hash", "record_type", "record_id", "number", "organisation", "at", "actor", "through"]
HASHED += ["request_id", "action", "reason", "before", "after"]


class DoesNotHold(Exception):
    """The trail was changed; the text names the first place."""


def entry_hash(entry: dict[str, Any]) -> str:
    """Return the SHA-256 of an entry's content as a JSON list without spaces, in UTF-8."""
    content = json.dumps([entry[name] for name in HASHED], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(content.encode()).hexdigest()


def verify(trail: Iterable[str], anchor: Iterable[str] = ()) -> tuple[int, int, int]:
    """Return the numbers of entries, chains and anchored heads. Raises DoesNotHold."""
    chains: dict[tuple[str, str], tuple[int, str]] = {}
    hashes: dict[tuple[str, str, int], str] = {}
    organisations, count, ending = set(), 0, None
    for line in trail:
        entry = json.loads(line)
        if "entries" in entry:
            ending = entry["entries"]
            continue
        chain = (entry["record_type"], entry["record_id"])
        where = f"{chain[0]} {chain[1]}, entry {entry['number']}"
        number, previous = chains.get(chain, (0, GENESIS))
        if entry["number"] != number + 1:
            raise DoesNotHold(f"{where}: entry {number + 1} is missing")
        if entry["previous_hash"] != previous:
            raise DoesNotHold(f"{where}: does not follow from the entry before it")
        if entry_hash(entry) != entry["hash"]:
            raise DoesNotHold(f"{where}: was changed after it was written")
        for digest, (salt, value) in entry.get("opened", {}).items():  # personal values that were not erased
            is_bound = f'"{digest}"' in entry["before"] + entry["after"]
            if not is_bound or hashlib.sha256((salt + value).encode()).hexdigest() != digest:
                raise DoesNotHold(f"{where}: has a personal value that was changed")
        chains[chain] = (entry["number"], entry["hash"])
        hashes[(*chain, entry["number"])] = entry["hash"]
        organisations.add(entry["organisation"])
        count += 1
    if ending != count:
        raise DoesNotHold(f"the export is cut: {count} entries, its last line says {ending}")
    heads = [head for head in map(json.loads, anchor) if head["organisation"] in organisations]
    for head in heads:
        if hashes.get((head["record_type"], head["record_id"], head["number"])) != head["hash"]:
            raise DoesNotHold(
                f"{head['record_type']} {head['record_id']}, entry {head['number']}: was there when the anchor was "
                "made and is missing or other now"
            )
    return count, len(chains), len(heads)


def main(paths: Sequence[str]) -> int:
    """Verify the files of these names."""
    anchor = Path(paths[1]).read_text(encoding="utf-8").splitlines() if len(paths) > 1 else []
    with open(paths[0], encoding="utf-8") as trail:
        try:
            print("The trail holds: {} entries in {} chains, {} anchored.".format(*verify(trail, anchor)))
        except DoesNotHold as error:
            print(f"The trail does not hold: {error}.")
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
