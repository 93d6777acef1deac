"""How the desk writes times: by day, and never without their zone."""
