"""What schemathesis cannot know from the document."""

import schemathesis


@schemathesis.hook
def map_query(context, query):  # type: ignore[no-untyped-def] # called by name
    """Leave cursors out of what fits the schema: `cursor` and `after` come from `next` and are never made."""
    return {name: value for name, value in (query or {}).items() if name not in ("cursor", "after")}
