-- One row per hard set with a strength index over the rules.fade_days to the as-of day: its place
-- among the hard sets of its exercise that day, beside the first of them.
-- grain: client_id, exercise, day, nth
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- nth: place among the hard sets of the exercise that day, from 1
-- strength_index: its strength index [kg]
-- is_recorded: whether its effort is recorded
-- first_index: strength index of the day's first [kg]
-- is_first_recorded: whether the first's effort is recorded
-- load_ratio: its load over the first's
select
    graded.client_id,
    graded.exercise,
    graded.performed_on as day,
    row_number() over lift_day as nth,
    graded.strength_index,
    graded.recorded_rir is not null as is_recorded,
    first_value(graded.strength_index) over lift_day as first_index,
    first_value(graded.recorded_rir is not null) over lift_day as is_first_recorded,
    graded.effective_load_kg
    / first_value(graded.effective_load_kg) over lift_day as load_ratio,
from int_set__graded as graded
cross join review.run as run
cross join review.rules as rules
where
    graded.is_hard
    and not graded.is_suspect
    and graded.strength_index is not null
    and graded.performed_on > run.as_of - rules.fade_days
window lift_day as (
    partition by graded.client_id, graded.exercise, graded.performed_on
    order by graded.day_order, graded.load_id, graded.source_line, graded.set_id
)
