-- One row: the days that the arithmetic of a change rests on, and the round of the rotation. The
-- days are the whole rounds to the client's last covered day, deload days left out: those of a
-- muscle's standing. Without a fixed rotation a week of seven days is taken as one round.
-- grain: one row
-- client_id: the client
-- as_of: the as-of day of the review
-- from_on: first day
-- to_on: last day: the last covered day
-- weeks: length without deload days; null: nothing is left [weeks]
-- is_fixed: whether a fixed rotation was found
-- round_days: length of one round now [days]
-- round_days_after: length with the rest days put in [days]
-- round_sessions: sessions in one round; null: no fixed rotation [sessions]
-- rest_days: days put into a round; with so many sessions a week asked for, those that its sessions
-- then take more, below 0: fewer [days]
-- sessions_a_week: sessions a week asked for; null: as now [sessions a week]
-- is_without_extensions: whether extensions are dropped
-- is_judged: whether any muscle has a standing: else nothing is judged
-- led_kind: pause or care since the last covered day: figures only; null: neither
-- is_cutting: whether the client is in a cut at the as-of day: nothing is added
-- first_on: first logged day
-- deload_days: deload days left out [days]
with coverage as (
    select
        coverage.first_on,
        coverage.covered_on,
        coverage.rate_days,
    from review.coverage as coverage
    semi join asked_change on coverage.client_id = asked_change.client_id
),

span_days as (
    select
        coverage.rate_days,
        coverage.covered_on - days.before::integer as day,
    from coverage
    cross join range(coverage.rate_days) as days (before)
),

counted_days as (
    select
        span_days.rate_days,
        count(*) as days,
    from span_days
    cross join asked_change
    anti join review.phases as phases
        on
            asked_change.client_id = phases.client_id
            and phases.kind = 'deload'
            and span_days.day between phases.from_on and phases.to_on
    group by all
),

trained_days as (
    select count(distinct lift_session.day) as days,
    from review.lift_session as lift_session
    cross join coverage
    semi join asked_change on lift_session.client_id = asked_change.client_id
    anti join review.phases as phases
        on
            lift_session.client_id = phases.client_id
            and phases.kind = 'deload'
            and lift_session.day between phases.from_on and phases.to_on
    where
        lift_session.hard_sets > 0
        and lift_session.day > coverage.covered_on - coverage.rate_days
        and lift_session.day <= coverage.covered_on
),

standings as (
    select count(status.standing) > 0 as is_judged,
    from review.muscle_status as status
    semi join asked_change on status.client_id = asked_change.client_id
),

rhythm as (
    select
        case
            when asked_change.sessions_a_week is null then asked_change.rest_days::double
            -- the sessions of a round, as they come now, at so many a week
            else
                coalesce(rotation.days, 7)
                * (trained_days.days / counted_days.days * 7 / asked_change.sessions_a_week - 1)
        end as days_added,
    from asked_change
    cross join trained_days
    left join counted_days on true
    left join review.rotation as rotation on asked_change.client_id = rotation.client_id
),

phases_now as (
    select
        arg_max(phases.kind, phases.from_on) filter (
            where phases.kind in ('pause', 'care') and phases.to_on >= coverage.covered_on
        ) as led_kind,
        count(*) filter (where phases.kind = 'cut' and phases.to_on >= run.as_of) as cuts,
    from review.phases as phases
    cross join review.run as run
    cross join coverage
    semi join asked_change on phases.client_id = asked_change.client_id
    where phases.from_on <= run.as_of
)

select
    asked_change.client_id,
    run.as_of,
    coverage.covered_on - coverage.rate_days + 1 as from_on,
    coverage.covered_on as to_on,
    counted_days.days / 7 as weeks,
    rotation.days is not null as is_fixed,
    coalesce(rotation.days, 7) as round_days,
    coalesce(rotation.days, 7) + rhythm.days_added as round_days_after,
    rotation.sessions as round_sessions,
    rhythm.days_added as rest_days,
    asked_change.sessions_a_week,
    asked_change.is_without_extensions,
    standings.is_judged,
    phases_now.led_kind,
    phases_now.cuts > 0 as is_cutting,
    coverage.first_on,
    coverage.rate_days - counted_days.days as deload_days,
from asked_change
cross join review.run as run
cross join coverage
cross join standings
cross join rhythm
cross join phases_now
left join counted_days on true
left join review.rotation as rotation on asked_change.client_id = rotation.client_id
