"""The parts of a client page, each a room of its own: rows of review tables to what is shown."""
