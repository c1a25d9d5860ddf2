-- One row per client and calendar month from the month of the first logged day to that of the
-- last covered day: how much was done, so that a month can be set against the one before. Its first and its last
-- month may hold fewer days than the calendar's; the weekly figures allow for that.
-- grain: client_id, month
-- client_id: the client
-- month: first day of the month
-- days: calendar days of it between the first logged and the last covered day [days]
-- sessions: days with any set [sessions]
-- hard_sets: hard sets [sets]
-- rest_days: calendar days with fewer than rules.rest_day_sets hard sets [days]
-- new_bests: lifts whose best session e1RM in it is above every earlier one [lifts]
-- weekly_sessions: sessions in seven days, on average [sessions a week]
-- weekly_hard_sets: hard sets in seven days, on average [sets a week]
-- weekly_rest_days: rest days in seven days, on average [days a week]
with days as (
    select
        rhythm.client_id,
        date_trunc('month', rhythm.day)::date as month,
        rhythm.trained,
        rhythm.hard_sets,
        rhythm.hard_sets < rules.rest_day_sets as is_rest_day,
    from review.rhythm as rhythm
    cross join review.rules as rules
    inner join int_client__logged as coverage
        on rhythm.client_id = coverage.client_id and rhythm.day <= coverage.covered_on
),

months as (
    select
        client_id,
        month,
        count(*)::integer as days,
        count(*) filter (where trained)::integer as sessions,
        sum(hard_sets)::integer as hard_sets,
        count(*) filter (where is_rest_day)::integer as rest_days,
    from days
    group by all
),

lift_months as (
    select
        client_id,
        exercise,
        date_trunc('month', day)::date as month,
        max(e1rm) as best,
    from review.lift_session
    where e1rm is not null
    group by all
),

compared_months as (
    select
        client_id,
        month,
        best > max(best) over (
            partition by client_id, exercise
            order by month
            rows between unbounded preceding and 1 preceding
        ) as is_new_best,
    from lift_months
),

bests as (
    select
        client_id,
        month,
        count(*) filter (where is_new_best)::integer as new_bests,
    from compared_months
    group by all
)

select
    months.client_id,
    months.month,
    months.days,
    months.sessions,
    months.hard_sets,
    months.rest_days,
    coalesce(bests.new_bests, 0) as new_bests,
    round(7 * months.sessions / months.days, 9) as weekly_sessions,
    round(7 * months.hard_sets / months.days, 9) as weekly_hard_sets,
    round(7 * months.rest_days / months.days, 9) as weekly_rest_days,
from months
left join bests
    on months.client_id = bests.client_id and months.month = bests.month
