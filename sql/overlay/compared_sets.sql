-- One row per set that an incoming version gives, and per set that counts in the ledger: what it
-- says, in one value. Two days of one source are the same day if their sets say the same, whatever
-- the version or line that they came from. Read by day_changes.sql.
-- grain: is_incoming, source, client_id, performed_on, said (equal sets of a day stand apart)
-- is_incoming: whether the set is of the incoming version, else it stands in the ledger
-- source: name of the source
-- client_id: the client
-- performed_on: calendar day
-- said: all that an export can say of a set
create or replace temp view compared as
with both_sides as (
    select
        true as is_incoming,
        *,
    from incoming_sets

    union all by name

    select
        false as is_incoming,
        *,
    from ledger.sets
    where replaced_by is null
)

select
    is_incoming,
    source,
    client_id,
    performed_on,
    row(
        exercise_raw, day_order, started_at, set_no, side, load_kg, load_unit, load_basis, reps,
        partial_reps, rir, rpe, to_failure, set_kind, notes
    ) as said,
from both_sides;
