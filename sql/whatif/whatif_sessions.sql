-- One row per version (before, after), exercise and day of the span with a hard set: its sets as
-- logged, and with the exercises swapped that are to be swapped.
-- grain: version, exercise, day
-- version: before or after
-- exercise: the exercise
-- day: the day
-- hard_sets: hard sets [sets]
-- extended_sets: those that went on after failure; none where extensions are dropped [sets]
with sessions as (
    select
        lift_session.exercise,
        lift_session.day,
        lift_session.hard_sets,
        lift_session.extended_sets,
        span.is_without_extensions,
    from review.lift_session as lift_session
    inner join whatif_span as span
        on
            lift_session.client_id = span.client_id
            and lift_session.day between span.from_on and span.to_on
    anti join review.phases as phases
        on
            lift_session.client_id = phases.client_id
            and phases.kind = 'deload'
            and lift_session.day between phases.from_on and phases.to_on
    where lift_session.hard_sets > 0
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
        sessions.hard_sets,
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
group by all
