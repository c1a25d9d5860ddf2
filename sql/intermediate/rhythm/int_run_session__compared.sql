-- One row per comparison and lift's session: where the day stands in a run of training days, and what
-- the session gave, both less what the lift's own line over rules.joint_short_days says: short lines,
-- for who changes rhythm and course at once would else take the one for the other. A comparison takes
-- the days of one place beside the first days after a day off, or (0) all of them, by place.
-- grain: client_id, place, exercise, run, band, stretch, day
-- client_id: the client
-- place: place in the run that is compared with the first; rules.recovery_places: or later; 0: all
-- exercise: the exercise
-- run: number of the lift's run
-- band: class of its repetitions
-- stretch: number of the stretch of rules.joint_short_days, from 0: the latest
-- day: the day
-- is_first: whether it is the first day after a day off
-- x: place in the run, as compared, less the lift's mean and line
-- y: 100 × natural log of what the session gave, less the lift's mean and line [%]
-- sessions: sessions of the lift's line in the comparison
with places as (
    select
        rhythm.client_id,
        rhythm.day,
        (clients.last_on - rhythm.day) // rules.joint_short_days as stretch,
        least(rhythm.run_of_training_days, rules.recovery_places) as place,
    from review.rhythm as rhythm
    cross join review.rules as rules
    inner join int_client__logged as clients on rhythm.client_id = clients.client_id
    where
        rhythm.run_of_training_days > 0
        and rhythm.day > clients.last_on - rules.trend_days_max
        -- the log's first days stand in a run whose beginning is not known
        and rhythm.run_of_training_days <= rhythm.day - clients.first_on
),

compared as (
    select
        places.client_id,
        places.day,
        places.stretch,
        places.place as own_place,
        unnest(
            case places.place
                when 1 then range(2, rules.recovery_places + 1)
                else [places.place]
            end || [0]
        ) as place,
    from places
    cross join review.rules as rules
),

sessions as (
    select
        compared.client_id,
        compared.place,
        cleaned.exercise,
        cleaned.run,
        cleaned.band,
        compared.stretch,
        cleaned.day,
        compared.own_place = 1 as is_first,
        compared.own_place::double as place_x,
        cleaned.raw_value as value,
        (cleaned.day - date '2000-01-03') / 7 as week,
    from compared
    inner join int_lift_session__cleaned as cleaned
        on compared.client_id = cleaned.client_id and compared.day = cleaned.day
    where cleaned.raw_value is not null
),

centred as (
    select
        *,
        count(*) over lift as sessions,
        place_x - avg(place_x) over lift as place_off,
        value - avg(value) over lift as value_off,
        week - avg(week) over lift as week_off,
    from sessions
    window lift as (partition by client_id, place, exercise, run, band, stretch)
),

sloped as (
    select
        *,
        sum(place_off * week_off) over lift / nullif(sum(week_off * week_off) over lift, 0)
            as place_slope,
        sum(value_off * week_off) over lift / nullif(sum(week_off * week_off) over lift, 0)
            as value_slope,
    from centred
    window lift as (partition by client_id, place, exercise, run, band, stretch)
)

select
    sloped.client_id,
    sloped.place,
    sloped.exercise,
    sloped.run,
    sloped.band,
    sloped.stretch,
    sloped.day,
    sloped.is_first,
    sloped.place_off - sloped.place_slope * sloped.week_off as x,
    sloped.value_off - sloped.value_slope * sloped.week_off as y,
    sloped.sessions,
from sloped
cross join review.rules as rules
where sloped.sessions >= rules.recovery_min_sessions and sloped.place_slope is not null
