-- One row per client and training day on which bodyweight was part of a load: the bodyweight of
-- that day, on the straight line between the weigh-ins before and after it. Further than
-- rules.bodyweight_days from the nearest weigh-in it is the undated one, if there is one.
-- grain: client_id, performed_on
-- client_id: the client
-- performed_on: the day
-- bodyweight_kg: bodyweight; null: not known [kg]
-- is_client_weighed: whether any bodyweight of the client is known
with training_days as (
    select distinct
        client_id,
        performed_on,
    from stg_sets
    where bodyweight_share > 0 and load_basis <> 'total'
),

dated_weigh_ins as (
    select
        client_id,
        performed_on,
        bodyweight_kg,
    from stg_bodyweights
    where performed_on is not null
),

undated_weigh_ins as (
    select
        client_id,
        bodyweight_kg,
    from stg_bodyweights
    where performed_on is null
),

days_with_last as (
    select
        training_days.client_id,
        training_days.performed_on,
        dated_weigh_ins.bodyweight_kg as last_kg,
        training_days.performed_on - dated_weigh_ins.performed_on as days_since,
    from training_days
    asof left join dated_weigh_ins
        on
            training_days.client_id = dated_weigh_ins.client_id
            and training_days.performed_on >= dated_weigh_ins.performed_on
),

days_with_both as (
    select
        days_with_last.*,
        dated_weigh_ins.bodyweight_kg as next_kg,
        dated_weigh_ins.performed_on - days_with_last.performed_on as days_until,
    from days_with_last
    asof left join dated_weigh_ins
        on
            days_with_last.client_id = dated_weigh_ins.client_id
            and days_with_last.performed_on <= dated_weigh_ins.performed_on
),

weighed_clients as (
    select distinct client_id,
    from stg_bodyweights
),

interpolated as (
    select
        client_id,
        performed_on,
        least(days_since, days_until) as days_to_nearest,
        case
            when days_since = 0 or next_kg is null then last_kg
            when last_kg is null then next_kg
            else last_kg + (next_kg - last_kg) * days_since / (days_since + days_until)
        end as bodyweight_kg,
    from days_with_both
)

select
    interpolated.client_id,
    interpolated.performed_on,
    round(
        case
            when interpolated.days_to_nearest <= rules.bodyweight_days
                then interpolated.bodyweight_kg
            else undated_weigh_ins.bodyweight_kg
        end,
        9
    ) as bodyweight_kg,
    weighed_clients.client_id is not null as is_client_weighed,
from interpolated
cross join review.rules as rules
left join undated_weigh_ins on interpolated.client_id = undated_weigh_ins.client_id
left join weighed_clients on interpolated.client_id = weighed_clients.client_id
