-- One row per client and look: the span of the weekly rate. A rate over 28 days beats against a rotation of 5
-- days as a rolling week does against one of 4; over whole rounds a strict rotation has a steady one.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- rate_days: the whole number of rounds of the rotation that is nearest to rules.rate_days, the
-- fewer of two as near, rounded to days; rules.rate_days where none lies within a quarter of it, or
-- without a rotation [days]
with rounds as (
    select
        rotation.client_id,
        rotation.look_on,
        unnest(range(1, 1 + rules.rate_days))::integer as nth,
        nth * rotation.days as whole_days,
        abs(whole_days - rules.rate_days) as distance,
        rules.rate_days,
    from int_client__rotated as rotation
    cross join review.rules as rules
    where rotation.days > 0
),

nearest as (
    select
        rounds.client_id,
        rounds.look_on,
        round(rounds.whole_days)::integer as rate_days,
    from rounds
    cross join review.rules as rules
    where rounds.distance <= rules.rate_reach * rounds.rate_days + 1e-9
    qualify
        row_number() over (
            partition by rounds.client_id, rounds.look_on
            order by round(rounds.distance, 6), rounds.nth
        ) = 1
)

select
    looks.client_id,
    looks.look_on,
    coalesce(nearest.rate_days, rules.rate_days) as rate_days,
from int_client__looked as looks
cross join review.rules as rules
left join nearest on looks.client_id = nearest.client_id and looks.look_on = nearest.look_on
