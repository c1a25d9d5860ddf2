-- One row per logged row that counts: the load that was really moved, the recorded effort and the
-- estimates that follow from them. Only the row that carries a work set has estimates.
-- Epley 1985: load × (1 + r/30), here straight from the load at 1 to its value at 2, so that a
-- single to failure is its own 1RM; Brzycki 1993: load × 36 / (37 − r); r: repetitions to failure.
-- grain: set_id
-- set_id: the row
-- client_id: the client
-- exercise: the exercise
-- performed_on: calendar day
-- day_order: place in the client's day
-- load_id: the version that brought it
-- source_line: physical line on which its record starts
-- set_role: work (a set's figures are here), warmup, extension or second_side
-- effective_load_kg: load moved, with the share of bodyweight, which dumbbells in both hands add
--     to; per hand where logged so and no bodyweight is moved or known of the client [kg]
-- record_load_kg: load by which records go: as logged, added positive, assistance negative [kg]
-- reps: repetitions, of the lower side where sides are logged apart
-- recorded_rir: repetitions in reserve as recorded; null: not recorded
-- is_extended: whether the set went on after failure, or holds partials
-- reps_to_failure: repetitions that the set would have had if taken to failure
-- strength_index: Epley up to rules.index_reps_max, for trends and references [kg]
-- e1rm_epley: estimated one-repetition maximum by Epley, up to rules.e1rm_reps_max [kg]
-- e1rm_brzycki: estimated one-repetition maximum by Brzycki [kg]
-- tonnage_kg: load × repetitions, both hands and both sides [kg]
with rules as (
    select *,
    from review.rules
),

whole_sets as (
    select
        sets.set_id,
        sets.client_id,
        sets.exercise,
        sets.performed_on,
        sets.day_order,
        sets.load_id,
        sets.source_line,
        coalesce(grouped.set_role, sets.set_kind) as set_role,
        sets.load_basis,
        case
            when grouped.set_role = 'work' then grouped.load_kg else sets.load_kg
        end as load_kg,
        sets.bodyweight_share,
        sets.bodyweight_share > 0
        and (sets.load_basis <> 'per_hand' or coalesce(weighed.is_client_weighed, false))
            as moves_bodyweight,
        weighed.bodyweight_kg * sets.bodyweight_share as bodyweight_part_kg,
        case when grouped.set_role = 'work' then grouped.reps else sets.reps end as reps,
        coalesce(grouped.sides, 0) as sides,
        grouped.side_volume_kg,
        grouped.side_reps,
        round(
            case
                when grouped.logged_rir is not null then grouped.logged_rir
                when coalesce(sets.rir, 10 - sets.rpe) is not null
                    then coalesce(sets.rir, 10 - sets.rpe)
                when sets.to_failure or sets.partial_reps > 0 or grouped.has_failed then 0
            end,
            6
        ) as recorded_rir,
        coalesce(grouped.is_extended, sets.partial_reps > 0, false) as is_extended,
    from stg_sets as sets
    left join int_set__grouped as grouped on sets.set_id = grouped.set_id
    left join int_client_day__weighed as weighed
        on
            sets.client_id = weighed.client_id
            and sets.performed_on = weighed.performed_on
            and sets.bodyweight_share > 0
),

moved_loads as (
    select
        * exclude (bodyweight_part_kg),
        case when load_basis = 'assisted' then -abs(load_kg) else load_kg end as signed_load_kg,
        case
            when load_basis = 'total' then 0
            when moves_bodyweight then bodyweight_part_kg
            when load_basis in ('added', 'per_hand') then 0
        end as carried_kg,
        case when load_basis = 'per_hand' and moves_bodyweight then 2 else 1 end as hands,
        set_role = 'work' as is_work,
    from whole_sets
),

effective_loads as (
    select
        *,
        case
            when load_basis in ('added', 'assisted', 'per_hand') and moves_bodyweight
                then coalesce(signed_load_kg, 0)
            when load_basis = 'none' and moves_bodyweight then 0
            else nullif(signed_load_kg, 0)
        end as logged_part_kg,
    from moved_loads
),

efforts as (
    select
        effective_loads.*,
        case
            when carried_kg + hands * logged_part_kg > 0
                then round(carried_kg + hands * logged_part_kg, 9)
        end as effective_load_kg,
        case
            when not is_work or reps < 1 or recorded_rir > rules.reserve_max then null
            else reps + coalesce(recorded_rir, 0)
        end as reps_to_failure,
    from effective_loads
    cross join rules
),

estimated as (
    select
        efforts.*,
        case
            when reps_to_failure <= 2
                then round(effective_load_kg * (1 + (reps_to_failure - 1) / 15), 9)
            else round(effective_load_kg * (1 + reps_to_failure / 30), 9)
        end as epley_kg,
        reps_to_failure <= rules.index_reps_max as has_index,
        reps_to_failure <= rules.e1rm_reps_max as has_e1rm,
    from efforts
    cross join rules
)

select
    set_id,
    client_id,
    exercise,
    performed_on,
    day_order,
    load_id,
    source_line,
    set_role,
    effective_load_kg,
    logged_part_kg as record_load_kg,
    reps,
    recorded_rir,
    is_extended and is_work as is_extended,
    reps_to_failure,
    case when has_index then epley_kg end as strength_index,
    case when has_e1rm then epley_kg end as e1rm_epley,
    case
        when has_e1rm then round(effective_load_kg * 36 / (37 - reps_to_failure), 9)
    end as e1rm_brzycki,
    case
        when not is_work or effective_load_kg is null then null
        when sides > 0 then round(
            carried_kg * side_reps
            + case
                when load_basis = 'none' or logged_part_kg is null then 0
                when load_basis = 'assisted' then -abs(coalesce(side_volume_kg, 0))
                else hands * coalesce(side_volume_kg, 0)
            end,
            9
        )
        when load_basis = 'per_hand' and not moves_bodyweight
            then round(2 * effective_load_kg * reps, 9)
        else round(effective_load_kg * reps, 9)
    end as tonnage_kg,
from estimated
