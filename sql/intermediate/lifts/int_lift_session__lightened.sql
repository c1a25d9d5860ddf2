-- One row per client, exercise and day with a work set: whether it was a light session, and whether
-- it is taken for a deload. Light: no hard set, or every load rules.light_share or more under the
-- median of the lift's last three full sessions at no more repetitions; none until three exist.
-- Looked for twice, so that a light session is not compared with light ones; a new level of the
-- lift starts anew.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- light_run_days: length of the run of light sessions that it is part of; null: not light [days]
-- is_light: whether it is taken for a deload: light in a run of at most rules.light_run_days, or in
-- a phase of deload
-- is_planned: whether it is in a phase of deload
with sessions as (
    select
        counted.client_id,
        counted.exercise,
        counted.day,
        counted.hard_sets,
        counted.top_load_kg,
        counted.best_reps,
        levelled.level,
    from int_lift_session__counted as counted
    inner join int_lift_session__levelled as levelled
        on
            counted.client_id = levelled.client_id
            and counted.exercise = levelled.exercise
            and counted.day = levelled.day
),

ordered_sessions as (
    select
        *,
        row_number() over lift - 1 as sessions_before,
        lag(top_load_kg) over lift as load_1,
        lag(top_load_kg, 2) over lift as load_2,
        lag(top_load_kg, 3) over lift as load_3,
        lag(best_reps) over lift as reps_1,
        lag(best_reps, 2) over lift as reps_2,
        lag(best_reps, 3) over lift as reps_3,
    from sessions
    window lift as (partition by client_id, exercise, level order by day)
),

first_looked as (
    select
        ordered_sessions.*,
        sessions_before >= 3 and (
            hard_sets = 0 or coalesce(
                top_load_kg
                <= (1 - rules.light_share) * list_median([load_1, load_2, load_3]) + 1e-6
                and best_reps <= list_median([reps_1, reps_2, reps_3]),
                false
            )
        ) as seems_light,
    from ordered_sessions
    cross join review.rules as rules
),

-- only where a session seems light can one be light: the second look is at those lifts alone
lifts_in_question as (
    select distinct
        client_id,
        exercise,
        level,
    from first_looked
    where seems_light
),

compared as (
    select
        first_looked.*,
        list({ 'load': first_looked.top_load_kg, 'reps': first_looked.best_reps }) filter (
            where not first_looked.seems_light
        ) over (
            partition by first_looked.client_id, first_looked.exercise, first_looked.level
            order by first_looked.day
            rows between 12 preceding and 1 preceding
        )[-3:] as full_sessions,
    from first_looked
    semi join lifts_in_question
        on
            first_looked.client_id = lifts_in_question.client_id
            and first_looked.exercise = lifts_in_question.exercise
            and first_looked.level = lifts_in_question.level
),

looked_again as (
    select
        compared.client_id,
        compared.exercise,
        compared.day,
        compared.level,
        sessions_before >= 3 and (
            hard_sets = 0 or coalesce(
                top_load_kg
                <= (1 - rules.light_share)
                * list_median([each.load for each in full_sessions])
                + 1e-6
                and best_reps <= list_median([each.reps for each in full_sessions]),
                false
            )
        ) as is_lightened,
    from compared
    cross join review.rules as rules
),

runs as (
    select
        *,
        sum((not is_lightened)::integer) over (
            partition by client_id, exercise, level
            order by day
        ) as run_no,
    from looked_again
),

measured_runs as (
    select
        *,
        case
            when is_lightened
                then max(day) over run_of_light - min(day) filter (where is_lightened)
                over run_of_light + 1
        end as light_run_days,
    from runs
    window run_of_light as (partition by client_id, exercise, level, run_no)
),

deload_sessions as (
    select
        sessions.client_id,
        sessions.exercise,
        sessions.day,
    from sessions
    semi join stg_phases as phases
        on
            sessions.client_id = phases.client_id
            and phases.kind = 'deload'
            and sessions.day between phases.from_on and phases.to_on
)

select
    sessions.client_id,
    sessions.exercise,
    sessions.day,
    measured_runs.light_run_days,
    deload_sessions.client_id is not null
    or coalesce(measured_runs.light_run_days <= rules.light_run_days, false) as is_light,
    deload_sessions.client_id is not null as is_planned,
from sessions
cross join review.rules as rules
left join measured_runs
    on
        sessions.client_id = measured_runs.client_id
        and sessions.exercise = measured_runs.exercise
        and sessions.day = measured_runs.day
left join deload_sessions
    on
        sessions.client_id = deload_sessions.client_id
        and sessions.exercise = deload_sessions.exercise
        and sessions.day = deload_sessions.day
