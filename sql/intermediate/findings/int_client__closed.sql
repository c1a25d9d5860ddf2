-- One row per client and look, and reason, for which nothing is added: strength is lost, work is rebuilt
-- or weight is cut, or something hurts.
-- grain: client_id, look_on, muscles
-- client_id: the client
-- look_on: the look
-- muscles: muscles that it concerns; null: all
select
    client_id,
    look_on,
    null::varchar[] as muscles,
from strength_drop
union
select
    client_id,
    look_on,
    null::varchar[] as muscles,
from return
union
select
    client_id::varchar as client_id,
    look_on,
    null::varchar[] as muscles,
from int_client__looked
where is_cutting
union
select
    client_id,
    look_on,
    muscles,
from pain_note
