"""One run under one lock: load, check, build, report, send; and forgetting a client."""
