"""The data contract: what must hold of every row of the ledger, asked of great-expectations.

Reading sets single lines aside; the contract asks afterwards whether what came out can be true at
all, so that a fault in reading, in the overlay or in a rebuild is seen before a figure rests on it.
Its face: `scope` (asked against what), `clauses` (what must hold), `validate` (the verdicts) and
`verdicts` (kept in the ledger).
"""
