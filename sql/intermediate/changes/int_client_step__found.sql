-- One row per client whose training stepped up in the last rules.follow_days and stayed there: the
-- clearest such day, by weeks back from the last covered day. Four weeks stand beside the four
-- before; more hard sets, sessions, sets to failure or sets extended past it are a step where they
-- are more than four-week spans of the half year before differed by, and rules.step_share more. Less
-- is no step: fewer sessions are asked about, not taken back.
-- grain: client_id
-- client_id: the client
-- changed_on: about the first day
-- measure: weekly_hard_sets, weekly_sessions, failure_share or extended_share: the clearest
with rules as (
    select *,
    from review.rules
),

clients as (
    select
        logged.client_id,
        logged.covered_on,
        least(
            (logged.covered_on - logged.first_on + 1) // 7,
            (rules.follow_days + rules.change_history_days) // 7
        ) as weeks,
    from int_client__logged as logged
    cross join rules
),

grid as (
    select
        client_id,
        covered_on,
        unnest(range(weeks))::integer as ago,
    from clients
),

day_effort as (
    select
        client_id,
        day,
        sum(work_sets) as work_sets,
        sum(recorded_sets) as recorded_sets,
        sum(rir_0) as failure_sets,
    from int_client_day__effort
    group by all
),

day_extensions as (
    select
        client_id,
        day,
        sum(extended_sets) as extended_sets,
    from int_lift_session__counted
    group by all
),

weeks as (
    select
        days.client_id,
        (clients.covered_on - days.day) // 7 as ago,
        count(*) as sessions,
        sum(days.hard_sets) as hard_sets,
        sum(day_effort.work_sets) as work_sets,
        sum(day_effort.recorded_sets) as recorded_sets,
        sum(day_effort.failure_sets) as failure_sets,
        sum(day_extensions.extended_sets) as extended_sets,
    from int_client_day__counted as days
    inner join clients on days.client_id = clients.client_id
    left join day_effort on days.client_id = day_effort.client_id and days.day = day_effort.day
    left join day_extensions
        on days.client_id = day_extensions.client_id and days.day = day_extensions.day
    where days.day <= clients.covered_on
    group by all
),

-- four weeks, the latest of which ended so many weeks ago
spans as (
    select
        grid.client_id,
        grid.covered_on,
        grid.ago,
        count(*) over four as weeks,
        min(coalesce(weeks.sessions, 0)) over four as least_sessions,
        sum(weeks.sessions) over four / 4 as weekly_sessions,
        sum(weeks.hard_sets) over four / 4 as weekly_hard_sets,
        sum(weeks.recorded_sets) over four as recorded_sets,
        sum(weeks.work_sets) over four as work_sets,
        case
            when recorded_sets >= rules.effort_recorded_share * work_sets
                then sum(weeks.failure_sets) over four / nullif(recorded_sets, 0)
        end as failure_share,
        sum(weeks.extended_sets) over four / nullif(sum(weeks.hard_sets) over four, 0)
            as extended_share,
    from grid
    cross join rules
    left join weeks on grid.client_id = weeks.client_id and grid.ago = weeks.ago
    window four as (
        partition by grid.client_id
        order by grid.ago
        rows between current row and 3 following
    )
),

pairs as (
    select
        later.client_id,
        later.covered_on,
        later.ago + 3 as ago,
        unnest([  -- noqa: AL03
            {
                'measure': 'weekly_hard_sets',
                'before': earlier.weekly_hard_sets::double,
                'more': (later.weekly_hard_sets - earlier.weekly_hard_sets)::double
            },
            {
                'measure': 'weekly_sessions',
                'before': earlier.weekly_sessions::double,
                'more': (later.weekly_sessions - earlier.weekly_sessions)::double
            },
            {
                'measure': 'failure_share',
                'before': 1.0,
                'more': (later.failure_share - earlier.failure_share)::double
            },
            {
                'measure': 'extended_share',
                'before': 1.0,
                'more': (later.extended_share - earlier.extended_share)::double
            }
        ], recursive := true),
    from spans as later
    inner join spans as earlier
        on later.client_id = earlier.client_id and later.ago + 4 = earlier.ago
    where earlier.weeks = 4 and later.least_sessions > 0 and earlier.least_sessions > 0
),

-- against the spans before it alone: what came after it must not widen what is usual
judged as (
    select
        pairs.*,
        count(more) over earlier_pairs as usual_pairs,
        sqrt(avg(more * more) over earlier_pairs) * rules.change_spread as reach,
        greatest(reach, rules.step_share * before) as limit_of_more,
    from pairs
    cross join rules
    window earlier_pairs as (
        partition by client_id, measure
        order by ago
        range between 4 following and 22 following
    )
)

select
    judged.client_id,
    judged.covered_on - 7 * (judged.ago + 1) + 1 as changed_on,
    judged.measure,
from judged
cross join rules
where
    judged.usual_pairs >= rules.change_min_pairs
    and judged.ago < rules.follow_days // 7
    and judged.more > judged.limit_of_more
qualify
    row_number() over (
        partition by judged.client_id
        order by
            round(judged.more / greatest(judged.limit_of_more, 1e-9), 9) desc, judged.ago desc,
            judged.measure
    ) = 1
