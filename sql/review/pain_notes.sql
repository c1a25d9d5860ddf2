-- One row per set of the last rules.pain_days whose note speaks of pain, injury or dizziness. The
-- words themselves stay in the ledger and are quoted on the coach's page only.
-- grain: set_id
-- set_id: the set
-- client_id: the client
-- performed_on: calendar day
-- exercise: the exercise
select
    set_id,
    client_id::varchar as client_id,
    day as performed_on,
    exercise::varchar as exercise,
from int_set__hurting
where is_last
