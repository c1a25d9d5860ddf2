-- One row per look: a client, exercise and week with a session, looked at from the lift's last
-- session of that week. The weeks are those that are shown, and rules.stall_memory_weeks before them
-- for the evidence that is remembered.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday
-- look: number of the look
-- run: number of the run
-- run_from: first day of the run
-- first_on: first session of the run that is used
-- until_on: last session up to the week's end that is used; null: none
-- last_day: last session up to the week's end
-- run_value: value of the run's first session [%]
-- steps: first sessions at another level, as known then; null: none
-- edges: both, the possible one included; null: none
-- weak_step_on: first session after the likeliest possible step besides; null: none
-- is_regaining: whether the run began within rules.trend_days and is under the best before it
-- has_unrecorded_record: whether it has a new record, and effort is not recorded
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        cleaned.*,
        date_trunc('week', day)::date as week,
        min(day) filter (where raw_value is not null) over so_far as first_on,
        max(day) filter (where raw_value is not null) over so_far as until_on,
        first_value(raw_value ignore nulls) over (
            partition by client_id, exercise, run
            order by day
            rows between unbounded preceding and unbounded following
        ) as run_value,
        max(day) filter (where is_record) over so_far as record_on,
        max(day) filter (where has_recorded_effort) over so_far as effort_on,
    from int_lift_session__cleaned as cleaned
    window so_far as (
        partition by client_id, exercise, run
        order by day
        rows between unbounded preceding and current row
    )
),

looks as (
    select
        sessions.client_id,
        sessions.exercise,
        sessions.week,
        sessions.run,
        sessions.run_from,
        sessions.first_on,
        sessions.until_on,
        sessions.day as last_day,
        sessions.run_value,
        coalesce(
            sessions.day - sessions.run_from <= rules.trend_days
            and sessions.best_in_run < sessions.best_before,
            false
        ) as is_regaining,
        coalesce(
            sessions.day - sessions.record_on < rules.new_record_days
            and (
                sessions.effort_on is null
                or sessions.day - sessions.effort_on >= rules.trend_days
            ),
            false
        ) as has_unrecorded_record,
    from sessions
    cross join rules
    inner join int_client__logged as clients on sessions.client_id = clients.client_id
    where
        sessions.week
        > clients.last_on - 7 * (rules.look_weeks + rules.stall_memory_weeks)
    qualify
        row_number() over (
            partition by sessions.client_id, sessions.exercise, sessions.week
            order by sessions.day desc
        ) = 1
),

-- where all lifts of the client stepped on the day of a noted change, each has its step there
noted_steps as (
    select
        looks.client_id,
        looks.exercise,
        looks.week,
        min(sessions.day) as step_on,
    from looks
    inner join int_client_change__stepped as noted
        on looks.client_id = noted.client_id and noted.known_on <= looks.until_on
    inner join int_lift_session__cleaned as sessions
        on
            looks.client_id = sessions.client_id
            and looks.exercise = sessions.exercise
            and looks.run = sessions.run
            and sessions.day between noted.changed_on and looks.until_on
    where sessions.raw_value is not null and noted.changed_on > looks.first_on
    group by looks.client_id, looks.exercise, looks.week, noted.changed_on
    having arg_max(noted.is_stepped, noted.known_on)
),

known_steps as (
    select
        looks.client_id,
        looks.exercise,
        looks.week,
        steps.step_on,
        steps.gain,
        steps.is_certain,
        max(steps.gain) filter (where steps.is_certain) over (
            partition by looks.client_id, looks.exercise, looks.week
            order by steps.step_on
            range between to_days(7 * rules.step_apart_weeks) preceding
            and to_days(7 * rules.step_apart_weeks) following
        ) as best_gain,
    from looks
    cross join rules
    inner join int_lift_step__found as steps
        on
            looks.client_id = steps.client_id
            and looks.exercise = steps.exercise
            and looks.run = steps.run
            and steps.known_on <= looks.until_on
            and (steps.until_on is null or looks.until_on < steps.until_on)
            and steps.step_on > looks.until_on - 7 * rules.history_weeks
    anti join noted_steps
        on
            looks.client_id = noted_steps.client_id
            and looks.exercise = noted_steps.exercise
            and looks.week = noted_steps.week
            and abs(steps.step_on - noted_steps.step_on) <= 7 * rules.step_apart_weeks
),

-- of neighbouring sessions the clearest; one certain step leaves no other beside it
look_steps as (
    select
        client_id,
        exercise,
        week,
        list(distinct step_on order by step_on) filter (
            where is_noted or (is_certain and gain = best_gain)
        ) as steps,
        arg_max(step_on, { 'gain': gain, 'earlier': -epoch(step_on) }) filter (
            where not is_noted and best_gain is null
        ) as weak_step_on,
    from (
        select
            *,
            false as is_noted,
        from known_steps
        union all by name
        select
            *,
            true as is_noted,
        from noted_steps
    ) as all_steps
    group by all
)

select
    looks.client_id,
    looks.exercise,
    looks.week,
    row_number() over (order by looks.client_id, looks.exercise, looks.week)::integer as look,
    looks.run,
    looks.run_from,
    looks.first_on,
    looks.until_on,
    looks.last_day,
    looks.run_value,
    look_steps.steps,
    case
        when look_steps.weak_step_on is null then look_steps.steps
        else list_append(coalesce(look_steps.steps, []), look_steps.weak_step_on)
    end as edges,
    look_steps.weak_step_on,
    looks.is_regaining,
    looks.has_unrecorded_record,
from looks
left join look_steps
    on
        looks.client_id = look_steps.client_id
        and looks.exercise = look_steps.exercise
        and looks.week = look_steps.week
