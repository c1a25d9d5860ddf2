-- One row per exercise and muscle that it trains, with what a set counts for the muscle.
-- Fractional counting: Pelland et al. 2025.
-- grain: exercise, muscle
-- exercise: the exercise
-- muscle: the muscle
-- role: direct or indirect
-- weight: what one hard set counts in fractional sets: 1, or rules.indirect_weight [sets]
with rules as (
    select *,
    from review.rules
)

select
    stg_exercise_muscles.exercise,
    stg_exercise_muscles.muscle,
    stg_exercise_muscles.role,
    case stg_exercise_muscles.role
        when 'direct' then 1
        else rules.indirect_weight
    end::double as weight,
from stg_exercise_muscles
cross join rules
