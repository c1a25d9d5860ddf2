-- One row per exercise and muscle that it trains; listed in both roles, the direct one counts.
-- grain: exercise, muscle
-- exercise: the exercise
-- muscle: the muscle
-- role: direct or indirect
select
    exercise,
    muscle,
    min(role) as role,  -- direct sorts before indirect
from seed_exercise_muscles
group by all
