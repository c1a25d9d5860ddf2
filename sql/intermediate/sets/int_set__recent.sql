-- One row per look and work set of the weekly rate's span before it, as effort_week looks
-- at them: under rules.effort_load_share of the day's top load they are left out.
-- grain: set_id, look_on
-- set_id: the set
-- client_id: the client
-- look_on: the look
-- exercise: the exercise
-- day: the day
-- reps: repetitions
-- movement: compound or isolation; null: the catalogue does not know the exercise
-- whole_rir: recorded repetitions in reserve, half steps counting down; null: not recorded
-- effort_basis: recorded, estimated or assumed
-- is_heavy: whether it is heavy work of few repetitions, though it may end far from failure
-- may_be_warmup: whether it may be an unmarked warm-up: no recorded effort, and under
-- rules.warmup_share of the day's top load
select
    graded.set_id,
    graded.client_id,
    spans.look_on,
    graded.exercise,
    graded.performed_on as day,
    graded.reps,
    exercises.movement,
    floor(graded.recorded_rir) as whole_rir,
    graded.effort_basis,
    coalesce(
        graded.reps <= rules.heavy_reps_max
        and graded.reps + graded.recorded_rir <= rules.heavy_reps_to_failure,
        false
    ) as is_heavy,
    graded.recorded_rir is null
    and coalesce(
        graded.effective_load_kg < rules.warmup_share * graded.top_load_kg, false
    ) as may_be_warmup,
from int_set__graded as graded
inner join int_client__spanned as spans
    on
        graded.client_id = spans.client_id
        and spans.span = 'current'
        and graded.performed_on between spans.from_on and spans.to_on
cross join review.rules as rules
left join stg_exercises as exercises on graded.exercise = exercises.exercise
where
    graded.set_role = 'work'
    and coalesce(graded.effective_load_kg >= rules.effort_load_share * graded.top_load_kg, true)
