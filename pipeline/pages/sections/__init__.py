"""The parts of a client page, a module each: from rows of review tables to what is shown."""
