"""What is said of the document as a whole: groups, headers, links between operations, what signs webhooks."""

from collections.abc import Iterator
from typing import Any, Final

from inspections.api.description import headers

Document = dict[str, Any]

GROUPS: Final = {
    "start": "What there is, and what every word and every problem means.",
    "problems": "What the codes of problems mean.",
    "jobs": "What scheduling asks for: a visit to a property, with its customer, window and purpose.",
    "inspectors": "Who can be sent to a job.",
    "runs": "One pass of a camera: drafted, submitted, graded, amended, reviewed.",
    "calculations": "Work that goes on behind an answer: followed until it is done.",
    "laterals": "The pipe out of all its runs: reconciled, graded, compared, with its site, scopes and report.",
    "repair-scopes": "What to repair, by which method, at what price, and why nothing cheaper is sound.",
    "closings": "What was found of a plan after the work.",
    "report-links": "Links that show a report without an account.",
    "checks": "Engineering checks: stateless, nothing is kept.",
    "customers": "Who asked.",
    "properties": "Addresses with their laterals.",
    "access-points": "Where a camera or a crew gets in.",
    "properties.geojson": "Properties on a map (RFC 7946).",
    "access-points.geojson": "Access points on a map (RFC 7946).",
    "grading-schemes": "Versioned schemes of grading.",
    "rate-books": "Versioned unit prices.",
    "rule-sets": "Versioned rules of a jurisdiction or programme.",
    "code-maps": "Versioned maps into a customer's own codes, and findings put into them and back.",
    "batches": "Many requests in one.",
    "imports": "Rows of observations and whole records, answered line by line.",
    "exports": "Everything of a kind, streamed from one state of the database.",
    "recomputations": "A scheme tried or applied on all laterals.",
    "events": "Every committed change, once and in order.",
    "subscriptions": "Who is sent which events.",
    "deliveries": "Events on their way to receivers.",
    "webhooks": "What receivers are sent.",
    "tokens": "Tokens of clients.",
    "audit-entries": "Who did what, when, through what.",
}
_BASE: Final = "/api/v1"
_VERBS: Final = ("get", "post", "put", "patch", "delete")
# Where what is made at an address is read, if not under the address itself.
_READ_AT: Final = {f"{_BASE}/laterals/{{id}}/repair-scopes": f"{_BASE}/repair-scopes"}
_SIGNED: Final = {
    "webhook-id": "The event's id, the same at every attempt: what came twice is taken once.",
    "webhook-timestamp": "Unix time of this attempt; refuse what is older than five minutes.",
    "webhook-signature": "`v1,` and the HMAC-SHA256 of `id.timestamp.body` in base64, under your secret; while a "
    "secret is being replaced two of them, separated by a space. Standard Webhooks.",
}


def finish(result: Document, generator: Any, request: Any, public: bool) -> Document:
    """Add what no operation knows by itself (a hook of drf-spectacular)."""
    result["components"]["headers"] = headers.components()
    paths = result["paths"]
    for path, verb, operation in operations(result):
        links = _links(path, verb, operation, paths, result["components"]["schemas"])
        for status, answer in operation["responses"].items():
            if status in ("200", "201", "202") and links:
                answer["links"] = links
    for webhook in result.get("webhooks", {}).values():
        webhook["post"]["parameters"] = [
            {"in": "header", "name": name, "required": True, "schema": {"type": "string"}, "description": text}
            for name, text in _SIGNED.items()
        ]
    _share_refusals(result)
    used = {tag for _, _, operation in operations(result) for tag in operation["tags"]} | {"webhooks"}
    result["tags"] = [{"name": name, "description": text} for name, text in GROUPS.items() if name in used]
    return result


def _share_refusals(result: Document) -> None:
    """Let every refusal that reads the same stand once, named by its codes."""
    shared: Document = {}
    for _, _, operation in operations(result):
        for status, answer in operation["responses"].items():
            if "x-codes" in answer:
                name = "".join(word.title() for code in answer["x-codes"] for word in code.split("_"))
                name += "OfWrite" if "Dry-Run" in answer["headers"] else ""
                name += "WhileRetired" if "Sunset" in answer["headers"] else ""
                name += "" if operation.get("security") else "ToAnyone"
                if shared.setdefault(name, answer) != answer:
                    raise ValueError(f"{operation['operationId']}: two refusals would be called {name}.")
                operation["responses"][status] = {"$ref": f"#/components/responses/{name}"}
    result["components"]["responses"] = dict(sorted(shared.items()))


def operations(document: Document) -> Iterator[tuple[str, str, Document]]:
    """Yield every operation with its path and verb."""
    for path, item in document["paths"].items():
        for verb in _VERBS:
            if verb in item:
                yield path, verb, item[verb]


def _links(path: str, verb: str, operation: Document, paths: Document, schemas: Document) -> Document:
    """Return where a client can go from the answer of an operation that makes or starts something."""
    if verb != "post":
        return {}
    members = _members(operation, schemas)
    found: Document = {}
    if "calculation" in members:
        found |= _to(paths, f"{_BASE}/calculations/{{id}}", "$response.body#/calculation/id", ("get",))
    if path == f"{_BASE}/jobs":
        for below in ("", "/site"):
            found |= _to(paths, f"{_BASE}/laterals/{{id}}{below}", "$response.body#/property/laterals/0/id", ("get",))
    if "id" in members:
        one = f"{_READ_AT.get(path, path)}/{{id}}"
        for address in paths:
            if address == one or (address.startswith(f"{one}/") and address.count("{") == 1):
                found |= _to(paths, address, "$response.body#/id", ("get", "post", "delete"))
    return found


def _to(paths: Document, address: str, id: str, verbs: tuple[str, ...]) -> Document:
    item = paths.get(address, {})
    return {
        item[verb]["operationId"]: {"operationId": item[verb]["operationId"], "parameters": {"id": id}}
        for verb in verbs
        if verb in item
    }


def _members(operation: Document, schemas: Document) -> Document:
    for status in ("201", "202", "200"):
        content = operation["responses"].get(status, {}).get("content", {})
        schema = content.get("application/json", {}).get("schema", {})
        if "$ref" in schema:
            members: Document = schemas[schema["$ref"].rpartition("/")[2]].get("properties", {})
            return members
    return {}
