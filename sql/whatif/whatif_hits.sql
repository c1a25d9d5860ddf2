-- One row per version (before, after) and muscle that got a hard set: what a week holds, before any
-- set is added and before any rest day is put in.
-- grain: version, muscle
-- version: before or after
-- muscle: the muscle
-- hits: days with a direct hard set [days]
-- direct_sets: direct hard sets a week [sets a week]
-- fractional_sets: fractional hard sets a week [sets a week]
-- extended_sets: those of fractional_sets that went on after failure [sets a week]
with muscle_days as (
    select
        sessions.version,
        roles.muscle,
        sessions.day,
        coalesce(sum(sessions.hard_sets) filter (where roles.role = 'direct'), 0) as direct_sets,
        sum(sessions.hard_sets * roles.weight) as fractional_sets,
        sum(sessions.extended_sets * roles.weight) as extended_sets,
    from whatif_sessions as sessions
    inner join review.exercise_muscles as roles on sessions.exercise = roles.exercise
    group by all
)

select
    muscle_days.version,
    muscle_days.muscle,
    count(*) filter (where muscle_days.direct_sets > 0) as hits,
    sum(muscle_days.direct_sets) / span.weeks as direct_sets,
    sum(muscle_days.fractional_sets) / span.weeks as fractional_sets,
    sum(muscle_days.extended_sets) / span.weeks as extended_sets,
from muscle_days
cross join whatif_span as span
group by muscle_days.version, muscle_days.muscle, span.weeks
