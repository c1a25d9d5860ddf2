-- One row per logged row that is part of a set logged in several rows: the two sides of one set,
-- and what went on after a work set (drops, rest-pause, partials). The first row of the set carries
-- its figures: the lower side's reps, load and reserve.
-- grain: set_id
-- set_id: the row
-- carrier_id: the row that carries the set; null: an extension without a work set before it
-- set_role: work (carries the set), second_side or extension
-- reps: the lower side's repetitions
-- load_kg: the lighter side's load as logged [kg]
-- logged_rir: the lower reserve of the sides, as logged or from the rating of exertion
-- has_failed: whether failure or partials were logged on a side, or the set went on
-- is_extended: whether the set went on, or holds partials
-- side_volume_kg: load as logged × reps over both sides; null where only one was logged [kg]
-- side_reps: repetitions of both sides together
-- sides: rows that are a side of this set
with lift_days as (
    select distinct
        client_id,
        exercise,
        performed_on,
    from stg_sets
    where set_kind = 'extension' or side is not null
),

set_rows as (
    select
        stg_sets.*,
        row_number() over (
            partition by client_id, exercise, performed_on
            order by day_order, load_id, source_line, set_id
        ) as place,
    from stg_sets
    semi join lift_days
        on
            stg_sets.client_id = lift_days.client_id
            and stg_sets.exercise = lift_days.exercise
            and stg_sets.performed_on = lift_days.performed_on
    where set_kind <> 'warmup'
),

-- sides that carry one set number belong together by it; the others by their order
matched_sides as (
    select
        client_id,
        exercise,
        performed_on,
        place,
        set_id,
        side,
        case
            when
                min(side) over same_number < max(side) over same_number
                then set_no
        end as shared_no,
    from set_rows
    where set_kind = 'work' and side is not null
    window same_number as (partition by client_id, exercise, performed_on, set_no)
),

counted_sides as (
    select
        *,
        row_number() over (
            partition by client_id, exercise, performed_on, shared_no, side
            order by place
        ) as nth,
    from matched_sides
),

side_carriers as (
    select
        set_id,
        first_value(set_id) over (
            partition by client_id, exercise, performed_on, shared_no, nth
            order by place
        ) as carrier_id,
    from counted_sides
),

work_carriers as (
    select
        set_rows.*,
        case
            when set_rows.set_kind = 'work' then coalesce(side_carriers.carrier_id, set_rows.set_id)
        end as work_carrier_id,
    from set_rows
    left join side_carriers on set_rows.set_id = side_carriers.set_id
),

carried_rows as (
    select
        *,
        last_value(work_carrier_id ignore nulls) over (
            partition by client_id, exercise, performed_on
            order by place
            rows between unbounded preceding and current row
        ) as carrier_id,
    from work_carriers
),

whole_sets as (
    select
        carrier_id,
        min(reps) filter (where set_kind = 'work') as reps,
        min(load_kg) filter (where set_kind = 'work') as load_kg,
        min(coalesce(rir, 10 - rpe)) filter (where set_kind = 'work') as logged_rir,
        bool_or(
            set_kind = 'extension'
            or coalesce(to_failure, false)
            or coalesce(partial_reps, 0) > 0
        ) as has_failed,
        bool_or(set_kind = 'extension' or coalesce(partial_reps, 0) > 0) as is_extended,
        round(sum(load_kg * reps) filter (where set_kind = 'work'), 9) as side_volume_kg,
        sum(reps) filter (where set_kind = 'work') as side_reps,
        count(*) filter (where set_kind = 'work' and side is not null) as sides,
    from carried_rows
    group by all
)

select
    carried_rows.set_id,
    carried_rows.carrier_id,
    case
        when carried_rows.set_kind = 'extension' then 'extension'
        when carried_rows.carrier_id = carried_rows.set_id then 'work'
        else 'second_side'
    end as set_role,
    whole_sets.reps,
    whole_sets.load_kg,
    whole_sets.logged_rir,
    whole_sets.has_failed,
    whole_sets.is_extended,
    whole_sets.side_volume_kg,
    whole_sets.side_reps,
    whole_sets.sides,
from carried_rows
left join whole_sets on carried_rows.carrier_id = whole_sets.carrier_id
