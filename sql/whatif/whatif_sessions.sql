-- One row per version (before, after), exercise and day of the span with a hard set: its sets as
-- logged, and with the exercises swapped that are to be swapped. Where the last set is to go closer to
-- failure it is a hard set after the change, if it was none.
-- grain: version, exercise, day
-- version: before or after
-- exercise: the exercise
-- day: the day
-- hard_sets: hard sets [sets]
-- extended_sets: those that went on after failure; none where extensions are dropped [sets]
with closer_lifts as (
    select distinct roles.exercise,
    from review.exercise_muscles as roles
    inner join asked_closer on roles.muscle = asked_closer.muscle
    where roles.role = 'direct'
),

last_sets as (
    select
        graded.exercise,
        graded.performed_on as day,
        arg_max(graded.is_hard, sets.day_order) as is_hard,
    from review.graded_sets as graded
    inner join asked_change on graded.client_id = asked_change.client_id
    inner join closer_lifts on graded.exercise = closer_lifts.exercise
    inner join ledger.current_sets as sets on graded.set_id = sets.set_id
    where sets.set_kind = 'work'
    group by all
),

sessions as (
    select
        lift_session.exercise,
        lift_session.day,
        lift_session.hard_sets,
        lift_session.extended_sets,
        span.is_without_extensions,
        coalesce((not last_sets.is_hard)::integer, 0) as sets_gained,
    from review.lift_session as lift_session
    inner join whatif_span as span
        on
            lift_session.client_id = span.client_id
            and lift_session.day between span.from_on and span.to_on
    left join last_sets
        on lift_session.exercise = last_sets.exercise and lift_session.day = last_sets.day
    anti join review.phases as phases
        on
            lift_session.client_id = phases.client_id
            and phases.kind = 'deload'
            and lift_session.day between phases.from_on and phases.to_on
),

versions as (
    select
        'before' as version,
        exercise,
        day,
        hard_sets,
        extended_sets,
    from sessions
    union all
    select
        'after' as version,
        coalesce(asked_swaps.new_exercise, sessions.exercise) as exercise,
        sessions.day,
        sessions.hard_sets + sessions.sets_gained as hard_sets,
        case when sessions.is_without_extensions then 0 else sessions.extended_sets end
            as extended_sets,
    from sessions
    left join asked_swaps on sessions.exercise = asked_swaps.exercise
)

select
    version,
    exercise,
    day,
    sum(hard_sets)::double as hard_sets,
    sum(extended_sets)::double as extended_sets,
from versions
where hard_sets > 0
group by all
