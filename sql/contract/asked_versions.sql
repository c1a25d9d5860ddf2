-- One row per version with verdicts of its own: one that is held has no sets in the ledger, and one
-- whose sets all gave way to a newer version has none to ask of.
-- grain: load_id
select load_id,
from ledger.loads
where
    state in ('loaded', 'replaced')
    and (sets_loaded = 0 or load_id in (select set_rows.load_id, from ledger.sets as set_rows))
