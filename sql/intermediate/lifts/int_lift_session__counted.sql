-- One row per client, exercise and day with a work set: its sets, repetitions and best figures.
-- Suspect sets and slips of unit count as sets and repetitions, not for loads, tonnage and estimates.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- work_sets: work sets
-- hard_sets: hard sets
-- extended_sets: hard sets that went on after failure or hold partials
-- top_load_kg: heaviest effective load [kg]
-- top_reps: most repetitions at that load; without a load the most repetitions
-- best_reps: most repetitions of a set
-- e1rm_epley: highest estimate by Epley [kg]
-- e1rm_brzycki: highest estimate by Brzycki [kg]
-- e1rm: highest mean of both [kg]
-- strength_index: highest strength index [kg]
-- reps: repetitions of all work sets
-- tonnage_kg: load × repetitions of all work sets [kg]
-- first_place: place in the client's day of its first work set
with work_sets as (
    select
        *,
        is_suspect or is_slip as is_doubted,
    from int_set__graded
    where set_role = 'work'
)

select
    client_id,
    exercise,
    performed_on as day,
    count(*) as work_sets,
    count(*) filter (where is_hard) as hard_sets,
    count(*) filter (where is_hard and is_extended) as extended_sets,
    max(effective_load_kg) filter (where not is_doubted) as top_load_kg,
    max({ 'load': coalesce(effective_load_kg, '-infinity'), 'reps': reps }) filter (
        where not is_doubted
    ).reps as top_reps,
    max(reps) filter (where not is_doubted) as best_reps,
    max(e1rm_epley) filter (where not is_doubted) as e1rm_epley,
    max(e1rm_brzycki) filter (where not is_doubted) as e1rm_brzycki,
    max(round((e1rm_epley + e1rm_brzycki) / 2, 9)) filter (where not is_doubted) as e1rm,
    max(strength_index) filter (where not is_doubted) as strength_index,
    sum(reps)::bigint as reps,
    round(sum(tonnage_kg) filter (where not is_doubted), 9) as tonnage_kg,
    min(day_order) as first_place,
from work_sets
group by client_id, exercise, performed_on
