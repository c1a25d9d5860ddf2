-- One row per set that counts, with the line it stands on and what the review made of it: what the
-- other files of this folder choose from.
-- grain: set_id
-- set_id: the set
-- client_id: the client
-- performed_on: calendar day
-- week: its Monday
-- exercise: the exercise
-- set_kind: work, warmup or extension
-- path: file
-- source_line: line in the file
-- load_kg: load as logged [kg]
-- reps: repetitions
-- rir_used: repetitions in reserve as used
-- effort_basis: recorded, estimated or assumed
-- is_hard: whether it is a hard set
-- is_extended: whether it went on after failure
-- is_suspect: whether its load looks mistyped
-- is_slip: whether it looks noted in another unit
-- strength_index: index for trends [kg]
-- figures: what it gives to a lift's figure, by column; the index to those that are not named
-- judged: how it was judged, in words
-- estimates: its estimates, in words
select
    sets.set_id,
    sets.client_id,
    sets.performed_on,
    date_trunc('week', sets.performed_on)::date as week,
    sets.exercise,
    sets.set_kind,
    loads.path,
    sets.source_line,
    sets.load_kg,
    sets.reps,
    graded.rir_used,
    graded.effort_basis,
    graded.is_hard,
    graded.is_extended,
    graded.is_suspect,
    graded.is_slip,
    graded.strength_index,
    map {
        'e1rm_epley': graded.e1rm_epley,
        'e1rm_brzycki': graded.e1rm_brzycki,
        'e1rm': graded.e1rm,
        'best_e1rm': graded.e1rm,
        'best_on': graded.e1rm,
        'hard_sets': graded.is_hard::integer,
        'reps': sets.reps,
        'top_load_kg': sets.load_kg,
        'top_reps': sets.load_kg,
    } as figures,
    concat_ws(
        ', ',
        case
            when sets.set_kind <> 'work' then sets.set_kind
            when graded.is_hard then 'hard set'
            else 'not a hard set'
        end,
        case graded.effort_basis
            when 'recorded' then format('{:g} in reserve as recorded', graded.rir_used)
            when 'estimated' then format('about {:.1f} in reserve by its load', graded.rir_used)
            when 'assumed' then 'effort unknown, judged by its load'
        end,
        case when graded.is_extended then 'extended' end,
        case when graded.is_suspect then 'load looks mistyped' end,
        case when graded.is_slip then 'load looks noted in another unit' end,
        case when sets.is_corrected then 'corrected by corrections.csv' end
    ) as judged,
    case
        when graded.e1rm is not null
            then format(
                'Epley {:.1f} kg, Brzycki {:.1f} kg, mean {:.1f} kg',
                graded.e1rm_epley, graded.e1rm_brzycki, graded.e1rm
            )
    end as estimates,
from review.graded_sets as graded
inner join ledger.current_sets as sets on graded.set_id = sets.set_id
inner join ledger.loads as loads on sets.load_id = loads.load_id
