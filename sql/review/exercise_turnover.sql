-- One row per client and week that is over, from the first to the last logged one: how much the
-- choice of exercises changes, and how much of the work is on lifts that can be followed.
-- grain: client_id, week
-- client_id: the client
-- week: Monday of the week
-- exercises: exercises done in the 14 days to its Sunday [exercises]
-- kept_share: of the exercises of the 14 days before those, the share done again; null: none [share]
-- trackable_share: of the hard sets of the rules.trackable_weeks to its Sunday, the share on lifts
-- trained at least rules.trackable_sessions times in them; null: no hard set [share]
-- is_judged: whether there is history for it and no layoff of rules.not_trained_days in it
with lift_weeks as (
    select
        client_id,
        exercise,
        date_trunc('week', day)::date as week,
        count(*) as sessions,
        sum(hard_sets) as hard_sets,
    from int_lift_session__counted
    group by all
),

-- each week of a lift is seen from its own Sunday and from those of the weeks after it
seen_weeks as (
    select
        lift_weeks.client_id,
        lift_weeks.exercise,
        lift_weeks.sessions,
        lift_weeks.hard_sets,
        unnest(range(rules.trackable_weeks))::integer as weeks_ago,
        lift_weeks.week + 7 * weeks_ago as seen_from,
    from lift_weeks
    cross join review.rules as rules
),

lifts as (
    select
        client_id,
        exercise,
        seen_from,
        min(weeks_ago) < 2 as is_recent,
        bool_or(weeks_ago between 2 and 3) as is_before,
        sum(sessions) as sessions,
        sum(hard_sets) as hard_sets,
    from seen_weeks
    group by all
),

shares as (
    select
        lifts.client_id,
        lifts.seen_from as week,
        count(*) filter (where is_recent) as exercises,
        count(*) filter (where is_recent and is_before) as kept,
        count(*) filter (where is_before) as before,
        sum(hard_sets) filter (where sessions >= rules.trackable_sessions) as trackable_sets,
        sum(hard_sets) as hard_sets,
    from lifts
    cross join review.rules as rules
    group by all
),

client_weeks as (
    select
        clients.client_id,
        clients.first_on,
        unnest(
            generate_series(
                date_trunc('week', clients.first_on),
                least(date_trunc('week', clients.last_on), run.as_of - 6),
                interval 7 day
            )
        )::date as week,
    from int_client__logged as clients
    cross join review.run as run
),

layoffs as (
    select
        client_id,
        previous_day as last_before,
        day as first_after,
    from int_client_day__counted
    cross join review.rules as rules
    where day - previous_day >= rules.not_trained_days
),

interrupted_weeks as (
    select distinct
        client_weeks.client_id,
        client_weeks.week,
    from client_weeks
    cross join review.rules as rules
    inner join layoffs
        on
            client_weeks.client_id = layoffs.client_id
            -- only what the week's Sunday already knew: a week is judged as it was then
            and layoffs.last_before <= client_weeks.week + 6 - rules.not_trained_days
            and layoffs.first_after > client_weeks.week + 7 - 7 * rules.trackable_weeks
)

select
    client_weeks.client_id::varchar as client_id,
    client_weeks.week,
    coalesce(shares.exercises, 0) as exercises,
    round(shares.kept / nullif(shares.before, 0), 9) as kept_share,
    round(coalesce(shares.trackable_sets, 0) / nullif(shares.hard_sets, 0), 9) as trackable_share,
    client_weeks.week + 7 - 7 * rules.trackable_weeks >= client_weeks.first_on
    and interrupted_weeks.client_id is null as is_judged,
from client_weeks
cross join review.rules as rules
left join shares
    on client_weeks.client_id = shares.client_id and client_weeks.week = shares.week
left join interrupted_weeks
    on
        client_weeks.client_id = interrupted_weeks.client_id
        and client_weeks.week = interrupted_weeks.week
