-- One row per stretch of sessions of a lift that looks noted in another unit, or for one hand instead
-- of both: they stand to those before or after as a pound to a kilogram or as two to one, within
-- rules.slip_tolerance and at like repetitions. Jumps of about these factors lead from one reading of
-- the loads to another; the reading with most sessions is taken for right, of two alike the later.
-- Lower loads are not named while they may be a light week, nor after a layoff, nor in fewer than
-- rules.slip_min_sessions first sessions of a lift. Where rules.slip_lifts other lifts slip the same way
-- on these days rules.slip_rough will do, for plates come in steps.
-- grain: client_id, exercise, slipped_from
-- client_id: the client
-- exercise: the exercise
-- slipped_from: first day
-- slipped_to: last day
-- sessions: sessions in it
-- factor: its loads over those before or after: 2.2046, 2 or their inverses
-- place: first, between or last among the lift's sessions
-- jumped_on: its first day; where it comes first that of the sessions after it
with rules as (
    select *,
    from review.rules
),

-- a chain of jumps that may be slips; the way back may be at other repetitions
chained as (
    select
        measured.*,
        is_settled or coalesce(miss > rules.slip_rough, true) as is_new_chain,
        sum(is_new_chain::integer) over lift as chain,
        lead(from_on) over lift as from_on_after,
    from int_lift_stretch__measured as measured
    cross join rules
    window lift as (partition by client_id, exercise order by stretch)
),

read as (
    select
        *,
        sum(case when is_new_chain then 0 else direction end) over (
            partition by client_id, exercise, chain
            order by stretch
        ) as reading,
    from chained
),

reading_sums as (
    select
        client_id,
        exercise,
        chain,
        reading,
        sum(sessions) as sessions,
        max(to_on) as to_on,
    from read
    group by all
),

right_readings as (
    select
        client_id,
        exercise,
        chain,
        arg_max(reading, { 'sessions': sessions, 'to_on': to_on }) as right_reading,
    from reading_sums
    group by all
    having count(*) > 1
),

-- the jumps on both sides of a stretch, with the sessions beyond them
jumps as (
    select
        read.*,
        read.reading - right_readings.right_reading as side,
        lag(read.reading) over in_chain as reading_before,
        lag(read.sessions) over in_chain as sessions_before,
        lead(read.reading) over in_chain as reading_after,
        lead(read.sessions) over in_chain as sessions_after,
        lead(read.factor) over in_chain as factor_after,
        lead(read.miss) over in_chain as miss_after,
        lead(read.is_like) over in_chain as is_like_after,
        right_readings.right_reading,
    from read
    inner join right_readings
        on
            read.client_id = right_readings.client_id
            and read.exercise = right_readings.exercise
            and read.chain = right_readings.chain
    window in_chain as (partition by read.client_id, read.exercise, read.chain order by stretch)
),

candidates as (
    select
        jumps.client_id,
        jumps.exercise,
        jumps.from_on,
        jumps.to_on,
        jumps.sessions,
        jumps.side,
        case
            when
                reading_before = right_reading
                and sessions_before >= rules.slip_min_sessions
                and is_like
                then miss
        end as miss_from,
        case
            when
                reading_after = right_reading
                and sessions_after >= rules.slip_min_sessions
                and is_like_after
                then miss_after
        end as miss_to,
        least(miss_from, miss_to) as least_miss,
        case when miss_from = least_miss then factor else factor_after end as factor,
        case
            when to_on_before is null then 'first'
            when from_on_after is null then 'last'
            else 'between'
        end as place,
        case when to_on_before is null then from_on_after else from_on end as jumped_on,
    from jumps
    cross join rules
    where
        abs(side) = 1
        and not is_settled
        and (
            side > 0
            or (
                (has_recorded_hard or to_on - from_on + 1 > rules.light_run_days)
                and coalesce(
                    from_on - to_on_before < rules.not_trained_days,
                    jumps.sessions >= rules.slip_min_sessions
                )
            )
        )
),

exact as (
    select candidates.*,
    from candidates
    cross join rules
    where least_miss <= rules.slip_tolerance + 1e-9
),

backed as (
    select
        candidates.client_id,
        candidates.exercise,
        candidates.from_on,
    from candidates
    inner join exact
        on
            candidates.client_id = exact.client_id
            and candidates.exercise <> exact.exercise
            and candidates.side = exact.side
            and candidates.from_on <= exact.to_on
            and candidates.to_on >= exact.from_on
    cross join rules
    where candidates.least_miss is not null
    group by all
    having count(distinct exact.exercise) >= any_value(rules.slip_lifts)
)

select
    candidates.client_id,
    candidates.exercise,
    candidates.from_on as slipped_from,
    candidates.to_on as slipped_to,
    candidates.sessions::integer as sessions,
    round(
        case when candidates.side > 0 then candidates.factor else 1 / candidates.factor end, 9
    ) as factor,
    candidates.place,
    candidates.jumped_on,
from candidates
cross join rules
left join backed
    on
        candidates.client_id = backed.client_id
        and candidates.exercise = backed.exercise
        and candidates.from_on = backed.from_on
where
    candidates.least_miss <= rules.slip_tolerance + 1e-9
    or backed.client_id is not null
