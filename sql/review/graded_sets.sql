-- One row per set that counts: the load moved, the effort it was judged by, whether it is a hard
-- set, and what it says of strength. Warm-ups, extension rows and second sides are never hard.
-- grain: set_id
-- set_id: "load:line:n": export version, line in it, set in the line
-- client_id: the client
-- performed_on: calendar day
-- exercise: the exercise
-- effective_load_kg: load moved, with the share of bodyweight; per hand where logged so [kg]
-- rir_used: repetitions in reserve as recorded or estimated; null: assumed, or no work set [reps]
-- effort_basis: recorded, estimated from the lift's recent sets, or assumed; null: no work set
-- is_hard: whether it counts as a hard set
-- is_extended: whether the set went on after failure (drop, rest-pause) or holds partials
-- is_suspect: whether its load is unlikely; it counts, but not for strength
-- is_slip: whether its load looks noted in another unit (see unit_slips); likewise
-- reps_to_failure: repetitions that it would have had if taken to failure [reps]
-- e1rm_epley: estimated one-repetition maximum by Epley (1985) [kg]
-- e1rm_brzycki: estimated one-repetition maximum by Brzycki (1993) [kg]
-- e1rm: mean of the two estimates [kg]
-- strength_index: Epley up to 20 repetitions to failure; for trends, never a 1RM [kg]
select
    set_id,
    client_id::varchar as client_id,
    performed_on,
    exercise::varchar as exercise,
    effective_load_kg,
    rir_used,
    effort_basis,
    is_hard,
    is_extended,
    is_suspect,
    is_slip,
    reps_to_failure,
    e1rm_epley,
    e1rm_brzycki,
    round((e1rm_epley + e1rm_brzycki) / 2, 9) as e1rm,
    strength_index,
from int_set__graded
