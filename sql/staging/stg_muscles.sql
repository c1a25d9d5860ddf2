-- One row per muscle that is counted.
-- grain: muscle
-- muscle: the muscle
-- body_part: legs, chest, back, shoulders, arms or trunk
-- label: the muscle in words
-- position: place in tables and figures, from 1
-- low_end_group: muscles that meet the low end of the guide together; null: no low end by default
select
    muscle,
    body_part,
    label,
    position,
    nullif(low_end_group, '') as low_end_group,
from seed_muscles
