-- One row per client, exercise and day with a work set: what the lift could do around that day, to
-- judge sets without recorded effort by. The second-best session index of rules.reference_days,
-- never across rules.restart_days without the lift, nor across a change of its level.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- reference_index: second-best session index of the window, the best under
-- rules.reference_min_sessions sessions, the day's own if higher [kg]
-- reference_reps: most repetitions of a set without any load in the window [reps]
-- top_load_kg: heaviest effective load of the day [kg]
with rules as (
    select *,
    from review.rules
),

marked_sessions as (
    select
        sessions.client_id,
        sessions.exercise,
        sessions.day,
        sessions.session_index,
        sessions.best_unloaded_reps,
        sessions.top_load_kg,
        levelled.level,
        coalesce(
            sessions.day - lag(sessions.day) over lift >= rules.restart_days,
            false
        ) as is_restart,
    from int_lift_session__indexed as sessions
    cross join rules
    inner join int_lift_session__levelled as levelled
        on
            sessions.client_id = levelled.client_id
            and sessions.exercise = levelled.exercise
            and sessions.day = levelled.day
    window lift as (partition by sessions.client_id, sessions.exercise order by sessions.day)
),

stretches as (
    select
        *,
        sum(is_restart::integer) over (
            partition by client_id, exercise
            order by day
        ) as stretch,
    from marked_sessions
),

windows as (
    select
        stretches.*,
        max(session_index, 2) over recent as best_two,
        count(session_index) over recent as sessions,
        max(best_unloaded_reps) over recent as reference_reps,
    from stretches
    cross join rules
    window recent as (
        partition by client_id, exercise, level, stretch
        order by day
        range between to_days(rules.reference_days - 1) preceding and current row
    )
)

select
    windows.client_id,
    windows.exercise,
    windows.day,
    greatest(
        windows.session_index,
        case
            when windows.sessions >= rules.reference_min_sessions then windows.best_two[2]
            else windows.best_two[1]
        end
    ) as reference_index,
    windows.reference_reps,
    windows.top_load_kg,
from windows
cross join rules
