-- One row per work set whose entries of effort contradict each other: reserve and exertion that
-- differ, or some in reserve beside failure, partials or a drop. The reserve counts before the
-- exertion, and that before failure: the page says so with the line.
-- grain: set_id
-- set_id: "load:line:n": export version, line in it, set in the line
-- client_id: the client
-- performed_on: calendar day
-- exercise: the exercise
-- load_id: the export version that brought it
-- source_line: physical line on which its record starts
-- rir: repetitions in reserve as logged [reps]
-- rpe: rating of perceived exertion as logged
-- has_failed: whether failure or partials were logged, or the set went on
-- counted_rir: repetitions in reserve that count for this row [reps]
with rules as (
    select effort_disagreement,
    from review.rules
),

recorded_sets as (
    select
        sets.set_id,
        sets.client_id,
        sets.performed_on,
        sets.exercise,
        sets.load_id,
        sets.source_line,
        sets.rir,
        sets.rpe,
        round(10 - sets.rpe, 6) as rpe_rir,
        round(coalesce(sets.rir, 10 - sets.rpe), 6) as counted_rir,
        coalesce(sets.to_failure, false)
        or coalesce(sets.partial_reps, 0) > 0
        or coalesce(grouped.is_extended and grouped.sides = 0, false) as has_failed,
    from stg_sets as sets
    left join int_set__grouped as grouped on sets.set_id = grouped.set_id
    where sets.set_kind = 'work' and (sets.rir is not null or sets.rpe is not null)
)

select
    recorded_sets.set_id,
    recorded_sets.client_id::varchar as client_id,
    recorded_sets.performed_on,
    recorded_sets.exercise::varchar as exercise,
    recorded_sets.load_id,
    recorded_sets.source_line,
    recorded_sets.rir,
    recorded_sets.rpe,
    recorded_sets.has_failed,
    recorded_sets.counted_rir,
from recorded_sets
cross join rules
where
    abs(recorded_sets.rir - recorded_sets.rpe_rir) >= rules.effort_disagreement
    or (recorded_sets.has_failed and recorded_sets.counted_rir >= rules.effort_disagreement)
