-- One row per client, muscle and day on which a hard set trained the muscle: the day's sets,
-- counted three ways. Fractional counting: Pelland et al. 2025.
-- grain: client_id, muscle, day
-- client_id: the client
-- muscle: the muscle
-- day: the day
-- direct_sets: hard sets of exercises that train it directly [sets]
-- fractional_sets: direct sets, and indirect ones at rules.indirect_weight [sets]
-- all_sets: direct and indirect hard sets alike [sets]
-- extended_sets: those of fractional_sets that went on after failure or hold partials [sets]
with lift_sessions as (
    select
        client_id,
        exercise,
        day,
        hard_sets,
        extended_sets,
    from int_lift_session__counted
    where hard_sets > 0
)

select
    lift_sessions.client_id::varchar as client_id,
    exercise_muscles.muscle,
    lift_sessions.day,
    coalesce(
        sum(lift_sessions.hard_sets) filter (where exercise_muscles.role = 'direct'), 0
    )::double as direct_sets,
    round(sum(lift_sessions.hard_sets * exercise_muscles.weight), 9) as fractional_sets,
    sum(lift_sessions.hard_sets)::double as all_sets,
    round(sum(lift_sessions.extended_sets * exercise_muscles.weight), 9) as extended_sets,
from lift_sessions
inner join review.exercise_muscles as exercise_muscles
    on lift_sessions.exercise = exercise_muscles.exercise
group by all
