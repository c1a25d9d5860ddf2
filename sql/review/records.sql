-- One row per client, exercise and number of repetitions: the heaviest load lifted for at least that
-- many, in sets with a trusted load of the lift's present level. Lifts with bodyweight go by added
-- load.
-- grain: client_id, exercise, reps
-- client_id: the client
-- exercise: the exercise
-- reps: at least so many repetitions [reps]
-- load_kg: heaviest load; added to bodyweight where it is part of the lift [kg]
-- performed_on: first day on which it was done
-- set_id: the set, the smallest set_id of that day
with present_levels as (
    select
        client_id,
        exercise,
        max(level_from) as level_from,
    from int_lift_session__levelled
    group by all
),

record_sets as (
    select
        graded.set_id,
        graded.client_id,
        graded.exercise,
        graded.performed_on,
        graded.record_load_kg as load_kg,
        least(graded.reps, rules.hard_reps_max) as reps,
    from int_set__graded as graded
    cross join review.rules as rules
    inner join present_levels
        on
            graded.client_id = present_levels.client_id
            and graded.exercise = present_levels.exercise
            and graded.performed_on >= present_levels.level_from
    where
        graded.set_role = 'work'
        and not graded.is_suspect
        and not graded.is_slip
        and graded.reps > 0
        and graded.record_load_kg is not null
),

best_at_reps as (
    select
        client_id,
        exercise,
        reps,
        max(load_kg) as load_kg,
    from record_sets
    group by all
),

lifts as (
    select
        client_id,
        exercise,
        unnest(generate_series(1, max(reps))) as reps,
    from best_at_reps
    group by client_id, exercise
),

best_from_reps as (
    select
        lifts.client_id,
        lifts.exercise,
        lifts.reps,
        max(best_at_reps.load_kg) over (
            partition by lifts.client_id, lifts.exercise
            order by lifts.reps desc
        ) as load_kg,
    from lifts
    left join best_at_reps
        on
            lifts.client_id = best_at_reps.client_id
            and lifts.exercise = best_at_reps.exercise
            and lifts.reps = best_at_reps.reps
),

first_days as (
    select
        best_from_reps.client_id,
        best_from_reps.exercise,
        best_from_reps.reps,
        best_from_reps.load_kg,
        min(
            { 'performed_on': record_sets.performed_on, 'set_id': record_sets.set_id }
        ) as first_set,
    from best_from_reps
    inner join record_sets
        on
            best_from_reps.client_id = record_sets.client_id
            and best_from_reps.exercise = record_sets.exercise
            and best_from_reps.load_kg = record_sets.load_kg
            and best_from_reps.reps <= record_sets.reps
    group by all
)

select
    client_id::varchar as client_id,
    exercise::varchar as exercise,
    reps::integer as reps,
    load_kg,
    first_set.performed_on,
    first_set.set_id,
from first_days
