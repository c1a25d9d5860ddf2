-- One row per trusted hard set with a strength index over the rules.fade_days to the client's last
-- covered day: its place among the hard sets of its exercise that day, beside the first of them. A
-- set without an index or with a load in doubt keeps its place and has no row.
-- grain: client_id, exercise, day, nth
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- nth: place among the hard sets of the exercise that day, from 1
-- strength_index: its strength index [kg]
-- is_recorded: whether its effort is recorded
-- first_index: strength index of the day's first; null: none, or its load is in doubt [kg]
-- is_first_recorded: whether the first's effort is recorded
-- load_ratio: its load over the first's
with recent_hard_sets as (
    select
        graded.client_id,
        graded.exercise,
        graded.performed_on as day,
        graded.effective_load_kg,
        graded.recorded_rir is not null as is_recorded,
        case
            when not (graded.is_suspect or graded.is_slip) then graded.strength_index
        end as trusted_index,
        row_number() over lift_day as nth,
        first_value(trusted_index) over lift_day as first_index,
        first_value(graded.recorded_rir is not null) over lift_day as is_first_recorded,
        graded.effective_load_kg
        / first_value(graded.effective_load_kg) over lift_day as load_ratio,
    from int_set__graded as graded
    inner join int_client__logged as logged on graded.client_id = logged.client_id
    cross join review.rules as rules
    where
        graded.is_hard
        and graded.performed_on > logged.covered_on - rules.fade_days
    window lift_day as (
        partition by graded.client_id, graded.exercise, graded.performed_on
        order by graded.day_order, graded.load_id, graded.source_line, graded.set_id
    )
)

select
    client_id,
    exercise,
    day,
    nth,
    trusted_index as strength_index,
    is_recorded,
    first_index,
    is_first_recorded,
    load_ratio,
from recent_hard_sets
where trusted_index is not null
