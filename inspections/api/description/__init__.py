"""What the OpenAPI document says beyond the shapes: parameters, refusals, headers, links, webhooks."""
