-- One row per set that counts, up to the as-of day, with what the catalogue says of its exercise.
-- grain: set_id
-- set_id: "load:line:n"
-- client_id: the client
-- exercise: the exercise
-- performed_on: calendar day
-- day_order: place in the client's day, from 1
-- load_id: the version that brought it
-- source_line: physical line on which its record starts
-- set_no: set number as exported
-- side: left or right where sides are logged apart
-- load_kg: load as logged [kg]
-- load_basis: what the load means: as exported, else by the catalogue, else total
-- bodyweight_share: share of bodyweight that is lifted with it [share]
-- reps: full repetitions
-- partial_reps: partial repetitions after them
-- rir: repetitions in reserve as logged
-- rpe: rating of perceived exertion as logged
-- to_failure: whether failure was logged
-- set_kind: work, warmup or extension
with run as (
    select as_of,
    from review.run
)

select
    sets.set_id,
    sets.client_id::client_key as client_id,
    sets.exercise::exercise_key as exercise,
    sets.performed_on,
    sets.day_order,
    sets.load_id,
    sets.source_line,
    sets.set_no,
    sets.side,
    sets.load_kg,
    coalesce(sets.load_basis, exercises.load_basis, 'total') as load_basis,
    coalesce(exercises.bodyweight_share, 0) as bodyweight_share,
    sets.reps,
    sets.partial_reps,
    sets.rir,
    sets.rpe,
    sets.to_failure,
    sets.set_kind,
from ledger.current_sets as sets
cross join run
left join stg_exercises as exercises on sets.exercise = exercises.exercise
semi join config_scope on sets.client_id = config_scope.client_id
where sets.performed_on <= run.as_of
