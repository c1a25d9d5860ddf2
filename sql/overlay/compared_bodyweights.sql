-- One row per weigh-in that an incoming version gives, and per weigh-in that counts in the ledger:
-- what it says, as compared_sets.sql has it for sets. Read by day_changes.sql.
-- grain: is_incoming, source, client_id, performed_on, said (equal weigh-ins of a day stand apart)
-- is_incoming: whether the weigh-in is of the incoming version, else it stands in the ledger
-- source: name of the source
-- client_id: the client
-- performed_on: day of the weigh-in
-- said: bodyweight [kg]
create or replace temp view compared as
with both_sides as (
    select
        true as is_incoming,
        *,
    from incoming_bodyweights

    union all by name

    select
        false as is_incoming,
        *,
    from ledger.bodyweights
    where replaced_by is null
)

select
    is_incoming,
    source,
    client_id,
    performed_on,
    bodyweight_kg as said,
from both_sides;
