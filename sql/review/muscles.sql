-- One row per muscle that is counted.
-- grain: muscle
-- muscle: the muscle
-- body_part: legs, chest, back, shoulders, arms or trunk
-- label: the muscle in words
-- position: place in tables and figures, from 1
-- low_end_group: muscles that meet the guide's low end together; null: no low end by default
select
    muscle,
    body_part,
    label,
    position,
    low_end_group,
from stg_muscles
