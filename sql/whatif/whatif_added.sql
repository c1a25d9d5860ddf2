-- One row per muscle that sets are added to or taken from, and exercise that gets them: those that
-- train the muscle directly, in the proportion in which they are done now. So a set added for the
-- chest is also work for front delts and triceps. A muscle that is not trained directly gets one
-- hit a round, and its sets count for it alone.
-- grain: muscle, exercise
-- muscle: the muscle asked for
-- exercise: the exercise; null: none trains the muscle now
-- sets_per_hit: sets to each hit: those asked for a week over its hits, but no more taken away than
-- there are [sets]
-- sets_a_week: the exercise's part of them, at the round of now [sets a week]
with targets as (
    select
        asked_sets.muscle,
        coalesce(hits.hits, 0) as hits,
        case when hits.hits > 0 then hits.hits / span.weeks else 7 / span.round_days end
            as hits_a_week,
        greatest(asked_sets.sets, -coalesce(hits.direct_sets, 0)) / hits_a_week as sets_per_hit,
    from asked_sets
    cross join whatif_span as span
    left join whatif_hits as hits
        on asked_sets.muscle = hits.muscle and hits.version = 'after' and hits.hits > 0
),

exercise_sets as (
    select
        roles.muscle,
        sessions.exercise,
        sum(sessions.hard_sets) as hard_sets,
    from whatif_sessions as sessions
    inner join review.exercise_muscles as roles
        on sessions.exercise = roles.exercise and roles.role = 'direct'
    where sessions.version = 'after'
    group by all
),

shares as (
    select
        muscle,
        exercise,
        hard_sets / sum(hard_sets) over (partition by muscle) as share,
    from exercise_sets
)

select
    targets.muscle,
    shares.exercise,
    targets.sets_per_hit,
    targets.sets_per_hit * targets.hits_a_week * coalesce(shares.share, 1) as sets_a_week,
from targets
left join shares on targets.muscle = shares.muscle
