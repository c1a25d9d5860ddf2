"""From an unknown export to a mapping, with a reason for each guess."""
