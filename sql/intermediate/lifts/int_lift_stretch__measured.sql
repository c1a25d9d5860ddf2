-- One row per stretch of a lift whose loads jump somewhere: sessions in a row without a jump of the top
-- load by rules.slip_jump_ratio, and how the jump to them stands to a slip of unit, or of one hand for
-- both. Measured between the sessions next to the jump, for a lift rises within a stretch. Lifts that
-- move bodyweight are left out: their loads do not double.
-- grain: client_id, exercise, stretch
-- client_id: the client
-- exercise: the exercise
-- stretch: number of the stretch, from 0
-- sessions: sessions in it
-- from_on: first day
-- to_on: last day
-- to_on_before: last day of the stretch before; null: none
-- has_recorded_hard: whether a set of it is recorded within rules.hard_rir of failure
-- direction: 1 where the loads jumped up to it, −1 where down; null: nothing before
-- factor: the nearest of a pound to a kilogram, and two
-- miss: by how much the jump misses it, as a share of it
-- is_like: whether repetitions are alike on both sides, and loads rules.slip_min_kg apart
-- is_settled: whether a noted change of the lift explains the jump
with rules as (
    select *,
    from review.rules
),

top_sets as (
    select
        loaded.client_id,
        loaded.exercise,
        loaded.performed_on as day,
        max({ 'kg': loaded.effective_load_kg, 'reps': loaded.reps }) as top_set,
        coalesce(bool_or(loaded.recorded_rir <= rules.hard_rir), false) as has_recorded_hard,
    from int_set__loaded as loaded
    cross join rules
    where loaded.set_role = 'work' and abs(loaded.effective_load_kg - loaded.record_load_kg) < 1e-6
    group by all
),

sessions as (
    select
        client_id,
        exercise,
        day,
        has_recorded_hard,
        top_set.kg as load_kg,
        top_set.reps,
    from top_sets
),

jumps as (
    select
        sessions.*,
        coalesce(
            greatest(load_kg / lag(load_kg) over days, lag(load_kg) over days / load_kg)
            >= rules.slip_jump_ratio,
            false
        ) as is_jump,
    from sessions
    cross join rules
    window days as (partition by client_id, exercise order by day)
),

lifts_in_question as (
    select distinct
        client_id,
        exercise,
    from jumps
    where is_jump
),

numbered as (
    select
        jumps.*,
        sum(is_jump::integer) over (partition by client_id, exercise order by day) as stretch,
    from jumps
    semi join lifts_in_question
        on
            jumps.client_id = lifts_in_question.client_id
            and jumps.exercise = lifts_in_question.exercise
),

placed as (
    select
        *,
        row_number() over (partition by client_id, exercise, stretch order by day) as nth,
        row_number() over (partition by client_id, exercise, stretch order by day desc)
            as nth_last,
    from numbered
),

stretches as (
    select
        placed.client_id,
        placed.exercise,
        placed.stretch,
        count(*) as sessions,
        min(placed.day) as from_on,
        max(placed.day) as to_on,
        bool_or(placed.has_recorded_hard) as has_recorded_hard,
        median(load_kg) filter (where nth <= rules.slip_min_sessions) as head_kg,
        median(reps) filter (where nth <= rules.slip_min_sessions) as head_reps,
        median(load_kg) filter (where nth_last <= rules.slip_min_sessions) as tail_kg,
        median(reps) filter (where nth_last <= rules.slip_min_sessions) as tail_reps,
    from placed
    cross join rules
    group by all
),

neighbours as (
    select
        *,
        lag(to_on) over lift as to_on_before,
        lag(tail_kg) over lift as kg_before,
        lag(tail_reps) over lift as reps_before,
        greatest(head_kg / kg_before, kg_before / head_kg) as size,
    from stretches
    window lift as (partition by client_id, exercise order by stretch)
),

settled as (
    select distinct
        neighbours.client_id,
        neighbours.exercise,
        neighbours.stretch,
    from neighbours
    inner join stg_lift_changes as changes
        on
            neighbours.client_id = changes.client_id
            and neighbours.exercise = changes.exercise
            and neighbours.to_on_before < changes.changed_on
            and neighbours.from_on >= changes.changed_on
)

select
    neighbours.client_id,
    neighbours.exercise,
    neighbours.stretch::integer as stretch,
    neighbours.sessions,
    neighbours.from_on,
    neighbours.to_on,
    neighbours.to_on_before,
    neighbours.has_recorded_hard,
    sign(neighbours.head_kg - neighbours.kg_before)::integer as direction,
    -- a pound is 0.45359237 kg
    case
        when abs(neighbours.size * 0.45359237 - 1) < abs(neighbours.size / 2 - 1)
            then 1 / 0.45359237
        else 2
    end as factor,
    round(abs(neighbours.size / factor - 1), 9) as miss,
    abs(neighbours.head_kg - neighbours.kg_before) >= rules.slip_min_kg
    and abs(neighbours.head_reps - neighbours.reps_before)
    <= greatest(
        rules.slip_reps,
        rules.slip_reps_share * greatest(neighbours.head_reps, neighbours.reps_before)
    ) as is_like,
    settled.client_id is not null as is_settled,
from neighbours
cross join rules
left join settled
    on
        neighbours.client_id = settled.client_id
        and neighbours.exercise = settled.exercise
        and neighbours.stretch = settled.stretch
