-- One row per lift of the client $client_id and session after $since, and its last session where
-- that was before: what is drawn, with the number of all its sessions. A log of ten years costs a
-- page no more than one.
select
    exercise,
    day,
    top_load_kg,
    top_reps,
    e1rm_epley,
    e1rm_brzycki,
    e1rm,
    strength_index,
    is_light,
    count(*) over lift as sessions,
from review.lift_session
where client_id = $client_id
window lift as (partition by exercise)
qualify day > $since or day = max(day) over lift
order by exercise, day
