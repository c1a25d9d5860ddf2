-- One row per logged row that counts, with the effort it was judged by (recorded, else estimated
-- from what the lift could do around that day, else assumed) and whether it is a hard set.
-- grain: set_id
-- set_id: the row
-- client_id: the client
-- exercise: the exercise
-- performed_on: calendar day
-- day_order: place in the client's day
-- load_id: the version that brought it
-- source_line: physical line on which its record starts
-- set_role: work, warmup, extension or second_side
-- effective_load_kg: load moved [kg]
-- record_load_kg: load by which records go [kg]
-- top_load_kg: heaviest effective load of the exercise that day [kg]
-- reps: repetitions
-- recorded_rir: repetitions in reserve as recorded
-- rir_used: repetitions in reserve as recorded or estimated; null: assumed, or no work set
-- effort_basis: recorded, estimated or assumed; null for rows that carry no work set
-- is_hard: whether it is a hard set
-- is_extended: whether the set went on after failure, or holds partials
-- is_suspect: whether its load is unlikely
-- is_slip: whether its load looks noted in another unit, or for one hand instead of both
-- reps_to_failure: repetitions that the set would have had if taken to failure
-- strength_index: Epley up to rules.index_reps_max [kg]
-- e1rm_epley: estimated one-repetition maximum by Epley [kg]
-- e1rm_brzycki: estimated one-repetition maximum by Brzycki [kg]
-- tonnage_kg: load × repetitions [kg]
with rules as (
    select *,
    from review.rules
),

referenced_sets as (
    select
        loaded.*,
        sessions.top_load_kg,
        suspects.set_id is not null as is_suspect,
        slips.factor is not null as is_slip,
        coalesce(loaded.effective_load_kg, loaded.record_load_kg, 0) as compared_load_kg,
        loaded.set_role = 'work' as is_work,
        loaded.set_role = 'work' and loaded.reps between 1 and rules.hard_reps_max as is_countable,
        case
            when loaded.effective_load_kg is not null
                then 30
                * (
                    sessions.reference_index
                    / (loaded.effective_load_kg / coalesce(slips.factor, 1))
                    - 1
                )
            when coalesce(loaded.record_load_kg, 0) = 0 then sessions.reference_reps
        end as possible_reps,
    from int_set__loaded as loaded
    cross join rules
    left join int_lift_session__referenced as sessions
        on
            loaded.client_id = sessions.client_id
            and loaded.exercise = sessions.exercise
            and loaded.performed_on = sessions.day
    left join int_set__suspect as suspects on loaded.set_id = suspects.set_id
    left join int_set__slipped as slips on loaded.set_id = slips.set_id
),

judged_sets as (
    select
        *,
        -- greatest() passes over a null: without possible repetitions there is no estimate
        case
            when not is_work then null
            when recorded_rir is not null then recorded_rir
            when possible_reps is not null then round(greatest(possible_reps - reps, 0), 6)
        end as rir_used,
        case
            when not is_work then null
            when recorded_rir is not null then 'recorded'
            when possible_reps is not null then 'estimated'
            else 'assumed'
        end as effort_basis,
    from referenced_sets
),

sets_alone as materialized (
    select
        judged_sets.* exclude (possible_reps),
        is_countable and coalesce(
            case
                when effort_basis = 'recorded' then rir_used <= rules.hard_rir
                when effort_basis = 'estimated' and reps <= rules.estimated_reps_max
                    then rir_used <= rules.hard_rir + rules.estimated_slack
                -- a pound is no round number of kilograms: an even share may miss by a hair
                else effective_load_kg >= rules.warmup_share * top_load_kg - 1e-6
            end,
            true
        ) as is_hard_alone,
    from judged_sets
    cross join rules
),

-- estimated sets that are not hard alone may be so by an earlier hard set: their days only
days_in_question as (
    select distinct
        client_id,
        exercise,
        performed_on,
    from sets_alone
    where is_countable and not is_hard_alone and effort_basis = 'estimated'
),

sets_in_question as (
    select
        sets_alone.set_id,
        sets_alone.compared_load_kg >= min(sets_alone.compared_load_kg) filter (
            where sets_alone.is_hard_alone
        ) over (
            partition by sets_alone.client_id, sets_alone.exercise, sets_alone.performed_on
            order by
                sets_alone.day_order,
                sets_alone.load_id,
                sets_alone.source_line,
                sets_alone.set_id
            rows between unbounded preceding and 1 preceding
        ) - 1e-6 as is_as_heavy,
        sets_alone.is_countable
        and not sets_alone.is_hard_alone
        and sets_alone.effort_basis = 'estimated' as is_in_question,
    from sets_alone
    semi join days_in_question
        on
            sets_alone.client_id = days_in_question.client_id
            and sets_alone.exercise = days_in_question.exercise
            and sets_alone.performed_on = days_in_question.performed_on
),

sets_hard_by_an_earlier as (
    select set_id,
    from sets_in_question
    where is_in_question and is_as_heavy
)

select
    sets_alone.set_id,
    sets_alone.client_id,
    sets_alone.exercise,
    sets_alone.performed_on,
    sets_alone.day_order,
    sets_alone.load_id,
    sets_alone.source_line,
    sets_alone.set_role,
    sets_alone.effective_load_kg,
    sets_alone.record_load_kg,
    sets_alone.top_load_kg,
    sets_alone.reps,
    sets_alone.recorded_rir,
    sets_alone.rir_used,
    sets_alone.effort_basis,
    sets_alone.is_hard_alone or sets_hard_by_an_earlier.set_id is not null as is_hard,
    sets_alone.is_extended,
    sets_alone.is_suspect,
    sets_alone.is_slip,
    sets_alone.reps_to_failure,
    sets_alone.strength_index,
    sets_alone.e1rm_epley,
    sets_alone.e1rm_brzycki,
    sets_alone.tonnage_kg,
from sets_alone
left join sets_hard_by_an_earlier on sets_alone.set_id = sets_hard_by_an_earlier.set_id
