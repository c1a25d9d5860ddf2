-- One row per noted change and week after it: whether the client's lifts all stepped on that day, as
-- known by then. Another gym, other bars, another form: alone each lift's step may hide in its noise,
-- together they do not. Each lift's step is measured by two levels with one slope over rules.step_weeks
-- before the change and the weeks since; the median of the lifts' steps is held against its error.
-- grain: client_id, changed_on, known_on
-- client_id: the client
-- changed_on: first day of the changed training
-- known_on: day up to which sessions are looked at
-- lifts: lifts trained on both sides
-- step_pct: median of their steps [%]
-- is_stepped: whether it is rules.weak_step_pct or more and rarer than rules.noted_step_p by chance
with rules as (
    select *,
    from review.rules
),

looks as (
    select
        changes.client_id,
        changes.changed_on,
        changes.changed_on + 7 * weeks.weeks::integer as known_on,
    from stg_changes as changes
    cross join rules
    cross join unnest(range(2, rules.step_weeks + 1)) as weeks (weeks)
),

sessions as (
    select
        looks.client_id,
        looks.changed_on,
        looks.known_on,
        cleaned.exercise,
        cleaned.run,
        (cleaned.day - looks.changed_on) / 7 as t,
        cleaned.raw_value as y,
        cleaned.day >= looks.changed_on as is_after,
    from looks
    cross join rules
    inner join int_lift_session__cleaned as cleaned
        on
            looks.client_id = cleaned.client_id
            and cleaned.day between looks.changed_on - 7 * rules.step_weeks and looks.known_on
    where cleaned.raw_value is not null
),

centred as (
    select
        *,
        t - avg(t) over side as x,
        y - avg(y) over side as z,
    from sessions
    window side as (partition by client_id, changed_on, known_on, exercise, run, is_after)
),

lifts as (
    select
        centred.client_id,
        centred.changed_on,
        centred.known_on,
        centred.exercise,
        centred.run,
        count(*) filter (where not is_after) as sessions_before,
        count(*) filter (where is_after) as sessions_after,
        avg(t) filter (where is_after) - avg(t) filter (where not is_after) as weeks_apart,
        sum(x * x) as weight,
        sum(x * z) / nullif(weight, 0) as slope,
        avg(y) filter (where is_after) - avg(y) filter (where not is_after)
        - slope * weeks_apart as step_pct,
        (1 / sessions_before + 1 / sessions_after + pow(weeks_apart, 2) / weight)
        * greatest(
            (sum(z * z) - slope * slope * weight) / (count(*) - 3),
            pow(any_value(rules.course_noise_low_pct), 2)
        ) as variance,
    from centred
    cross join rules
    group by centred.client_id, centred.changed_on, centred.known_on, centred.exercise, centred.run
    having
        sessions_before >= any_value(rules.step_min_before)
        and sessions_after >= any_value(rules.step_min_after)
),

-- the median, for one lift may have its own reasons; of normal errors it scatters by 1.2533 of what
-- the mean does, and a part of each day's noise is common to its lifts
clients as (
    select
        lifts.client_id,
        lifts.changed_on,
        lifts.known_on,
        count(*) as lifts,
        median(step_pct) as step_pct,
        1.2533 * sqrt(
            avg(variance) / count(*) * (1 + any_value(rules.shared_noise_share) * (count(*) - 1))
        ) as step_se,
    from lifts
    cross join rules
    where step_pct is not null
    group by lifts.client_id, lifts.changed_on, lifts.known_on
)

select
    clients.client_id,
    clients.changed_on,
    clients.known_on,
    clients.lifts::integer as lifts,
    round(clients.step_pct, 9) as step_pct,
    clients.lifts >= rules.joint_min_lifts
    and abs(clients.step_pct) >= rules.weak_step_pct
    and 2 * normal_tail(abs(clients.step_pct) / clients.step_se) <= rules.noted_step_p
        as is_stepped,
from clients
cross join rules
