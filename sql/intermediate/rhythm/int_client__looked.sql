-- One row per client and look: a day from which the client is judged by what was known up to it. The
-- last is the last covered day, what the result tables show; those before it are the Sundays of
-- rules.stay_weeks, not before the last restart, from which the first change is remembered.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the day
-- nth: number of the look, from 1
-- is_last: whether it is the last covered day
-- first_on: first logged day
-- last_on: last logged day up to the look
-- unread_share: share of the exports' lines that could not be read [share]
-- is_led: whether a phase of pause or care holds, at the last look also one that begins before the
-- as-of day: figures only, no judgement
-- is_cutting: whether the client is in a cut, at the last look that of the as-of day
with restarts as (
    select
        days.client_id,
        max(days.day) as restart_on,
    from int_client_day__counted as days
    cross join review.rules as rules
    where days.day - days.previous_day >= rules.not_trained_days
    group by all
),

looks as (
    select
        clients.client_id,
        clients.first_on,
        clients.covered_on,
        clients.unread_share,
        unnest(range(0, rules.stay_weeks + 1))::integer as looks_ago,
        looks_ago = 0 as is_last,
        case
            when is_last then clients.covered_on
            else date_trunc('week', clients.covered_on)::date + 6 - 7 * looks_ago
        end as look_on,
        case when is_last then run.as_of else look_on end as known_on,
    from int_client__logged as clients
    cross join review.run as run
    cross join review.rules as rules
),

kept_looks as (
    select
        looks.*,
        max(days.day) as last_on,
    from looks
    left join restarts on looks.client_id = restarts.client_id
    inner join int_client_day__counted as days
        on looks.client_id = days.client_id and looks.look_on >= days.day
    where looks.is_last or coalesce(looks.look_on >= restarts.restart_on, true)
    group by all
),

numbered_looks as (
    select
        *,
        row_number() over (partition by client_id order by look_on)::integer as nth,
    from kept_looks
)

select
    looks.client_id,
    looks.look_on,
    looks.nth,
    looks.is_last,
    looks.first_on,
    looks.last_on,
    looks.unread_share,
    coalesce(
        bool_or(phases.kind in ('pause', 'care') and phases.to_on >= looks.look_on), false
    ) as is_led,
    coalesce(bool_or(phases.kind = 'cut' and phases.to_on >= looks.known_on), false) as is_cutting,
from numbered_looks as looks
left join stg_phases as phases
    on looks.client_id = phases.client_id and phases.from_on <= looks.known_on
group by all
