-- One row: what a change would make of the client's week as a whole.
-- grain: one row
-- sessions_before: training days a week now [sessions a week]
-- sessions_after: the same after the change [sessions a week]
-- hard_sets_before: hard sets a week now [sets a week]
-- hard_sets_after: the same after the change [sets a week]
-- extended_sets_before: hard sets a week that go on after failure now [sets a week]
-- extended_sets_after: the same after the change [sets a week]
with weeks as (
    select
        count(distinct sessions.day) filter (where version = 'before') / span.weeks as sessions,
        coalesce(sum(sessions.hard_sets) filter (where version = 'before'), 0) / span.weeks
            as hard_sets,
        coalesce(sum(sessions.hard_sets) filter (where version = 'after'), 0) / span.weeks
            as hard_sets_kept,
        coalesce(sum(sessions.extended_sets) filter (where version = 'before'), 0) / span.weeks
            as extended_sets,
        coalesce(sum(sessions.extended_sets) filter (where version = 'after'), 0) / span.weeks
            as extended_sets_kept,
        span.round_days,
        span.rest_days,
    from whatif_span as span
    left join whatif_sessions as sessions on true
    group by span.weeks, span.round_days, span.rest_days
),

additions as (
    select coalesce(sum(sets_a_week), 0) as added_sets,
    from whatif_added
)

select
    round(weeks.sessions, 9) as sessions_before,
    sessions.weekly_rate_after as sessions_after,
    round(weeks.hard_sets, 9) as hard_sets_before,
    sets.weekly_rate_after as hard_sets_after,
    round(weeks.extended_sets, 9) as extended_sets_before,
    extended.weekly_rate_after as extended_sets_after,
from weeks
cross join additions
cross join changed_rate(
    weeks.sessions * weeks.round_days / 7, weeks.round_days, rest_days := weeks.rest_days
) as sessions
cross join changed_rate(
    weeks.hard_sets_kept * weeks.round_days / 7,
    weeks.round_days,
    rest_days := weeks.rest_days,
    sets_added := additions.added_sets * weeks.round_days / 7
) as sets
cross join changed_rate(
    weeks.extended_sets_kept * weeks.round_days / 7,
    weeks.round_days,
    rest_days := weeks.rest_days
) as extended
