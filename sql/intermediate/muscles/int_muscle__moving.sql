-- One row per client, look and muscle that a judged lift trains directly: which way its lifts go.
-- grain: client_id, look_on, muscle
-- client_id: the client
-- look_on: the look
-- muscle: the muscle
-- is_rising: whether at least rules.working_share of its judged lifts gain and none regresses: what
-- works is left alone
-- is_regressing: whether one of them regresses: nothing is added and nobody pushed
with lift_muscles as (
    select
        client_id,
        look_on,
        status,
        unnest(muscles) as muscle,
    from int_lift__watched
    where has_status
)

select
    lift_muscles.client_id::varchar as client_id,
    lift_muscles.look_on,
    lift_muscles.muscle,
    count(*) filter (where lift_muscles.status in ('progressing', 'slowing'))
    >= rules.working_share * count(*)
    and not bool_or(lift_muscles.status = 'regressing') as is_rising,
    bool_or(lift_muscles.status = 'regressing') as is_regressing,
from lift_muscles
cross join review.rules as rules
group by
    lift_muscles.client_id, lift_muscles.look_on, lift_muscles.muscle, rules.working_share
