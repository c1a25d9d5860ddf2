-- One row per client, span of days up to the client's last one, and group of lifts: the group judged
-- together. All lifts; those with a direct muscle of a body part, or one muscle as a direct one; and
-- the client's others beside them. The mean of their slopes, weighted by what each can tell, with the
-- spread between lifts (DerSimonian and Laird 1986, random effects). What a day gives to all its
-- lifts alike is summed inside the day before it is squared, so that noise which the lifts share
-- counts once and not once a lift.
-- grain: client_id, window_days, kind, subject, is_own
-- client_id: the client
-- window_days: length of the span; of parts and muscles rules.trend_days alone [days]
-- kind: all, body_part or muscle
-- subject: the body part or muscle; all: all lifts
-- is_own: whether they are the subject's lifts, or the client's others
-- lifts: lifts with rules.joint_min_sessions in the span
-- falling_share: share of them that point down
-- rate: mean change a week [%/week]
-- rate_se: its standard error, spread between lifts included [%/week]
-- days: days with a session
with rules as (
    select *,
    from review.rules
),

-- a lift counts until it has not been trained for rules.not_trained_days
looks as (
    select
        drawn.client_id,
        drawn.exercise,
        drawn.run,
        drawn.steps,
        drawn.edges,
        drawn.is_regaining,
        clients.last_on as until_on,
    from int_lift_look__drawn as drawn
    cross join rules
    inner join int_client__logged as clients on drawn.client_id = clients.client_id
    where clients.last_on - drawn.last_day < rules.not_trained_days
    qualify
        row_number() over (
            partition by drawn.client_id, drawn.exercise
            order by drawn.week desc
        ) = 1
),

windows as (
    select
        looks.*,
        unnest([rules.trend_days, rules.joint_short_days]) as window_days,
    from looks
    cross join rules
    where not looks.is_regaining
),

numbered as (
    select
        *,
        row_number() over (order by client_id, exercise, window_days) as lift,
    from windows
),

sessions as (
    select
        numbered.lift,
        numbered.client_id,
        numbered.window_days,
        cleaned.day,
        (cleaned.day - numbered.until_on) / 7 as t,
        case
            when
                len(
                    list_filter(
                        numbered.edges,
                        lambda step: step <= cleaned.day and step > cleaned.compared_from
                    )
                ) > 0
                then cleaned.raw_value
            else cleaned.log_value
        end as y,
        cleaned.band,
        coalesce(len(list_filter(numbered.steps, lambda step: step <= cleaned.day)), 0) as level,
    from numbered
    inner join int_lift_session__cleaned as cleaned
        on
            numbered.client_id = cleaned.client_id
            and numbered.exercise = cleaned.exercise
            and numbered.run = cleaned.run
            and cleaned.day between numbered.until_on - numbered.window_days + 1
            and numbered.until_on
    where cleaned.log_value is not null
),

centred as (
    select
        lift,
        client_id,
        window_days,
        day,
        t - avg(t) over in_group as x,
        y - avg(y) over in_group as y,
        row_number() over in_group as nth,
    from sessions
    window in_group as (partition by lift, band, level)
),

lifts as (
    select
        centred.lift,
        any_value(client_id) as client_id,
        any_value(window_days) as window_days,
        sum(x * x) as weight,
        sum(x * y) / weight as rate,
        count(*) - count(*) filter (where nth = 1) - 1 as freedom,
        greatest(
            (sum(y * y) - rate * rate * weight) / nullif(freedom, 0),
            pow(any_value(rules.course_noise_low_pct), 2)
        ) / weight as variance,
    from centred
    cross join rules
    group by centred.lift
    having
        count(*) >= any_value(rules.joint_min_sessions)
        and sum(x * x) > 1e-9
        and freedom > 0
),

-- what a lift trains directly
exercise_subjects as (
    select
        exercise_muscles.exercise,
        'muscle' as kind,
        exercise_muscles.muscle as subject,
    from review.exercise_muscles as exercise_muscles
    where exercise_muscles.role = 'direct'
    union
    select
        exercise_muscles.exercise,
        'body_part' as kind,
        muscles.body_part as subject,
    from review.exercise_muscles as exercise_muscles
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where exercise_muscles.role = 'direct'
),

lift_subjects as (
    select
        numbered.lift,
        numbered.client_id,
        exercise_subjects.kind,
        exercise_subjects.subject,
    from numbered
    semi join lifts on numbered.lift = lifts.lift
    inner join exercise_subjects on numbered.exercise = exercise_subjects.exercise
),

client_subjects as (
    select distinct
        client_id,
        kind,
        subject,
    from lift_subjects
),

grouped as (
    select
        *,
        'all' as kind,
        'all' as subject,
        true as is_own,
    from lifts
    union all by name
    select
        lifts.*,
        client_subjects.kind,
        client_subjects.subject,
        lift_subjects.lift is not null as is_own,
    from lifts
    cross join rules
    inner join client_subjects on lifts.client_id = client_subjects.client_id
    left join lift_subjects
        on
            lifts.lift = lift_subjects.lift
            and client_subjects.kind = lift_subjects.kind
            and client_subjects.subject = lift_subjects.subject
    where lifts.window_days = rules.trend_days
),

groups as (
    select
        client_id,
        window_days,
        kind,
        subject,
        is_own,
        count(*) as m,
        count(*) filter (where round(rate, 9) < 0) / count(*) as falling_share,
        sum(weight) as weight,
        sum(weight * rate) / sum(weight) as rate,
        sum(weight * weight) / pow(sum(weight), 2) as concentration,
        -- DerSimonian and Laird: what the lifts differ by beyond their errors
        sum(1 / variance) as precision,
        sum(rate * rate / variance) - pow(sum(rate / variance), 2) / precision as differences,
        case
            when m > 1
                then greatest(
                    (differences - m + 1)
                    / nullif(precision - sum(pow(variance, -2)) / precision, 0),
                    0
                )
            else 0
        end as spread,
    from grouped
    group by all
),

day_sums as (
    select
        grouped.client_id,
        grouped.window_days,
        grouped.kind,
        grouped.subject,
        grouped.is_own,
        centred.day,
        sum(centred.x * (centred.y - grouped.rate * centred.x)) as error,
    from centred
    inner join grouped on centred.lift = grouped.lift
    group by all
),

days as (
    select
        client_id,
        window_days,
        kind,
        subject,
        is_own,
        count(*) as days,
        sum(error * error) as squares,
    from day_sums
    group by all
),

told as (
    select
        groups.*,
        days.days,
        days.squares * days.days / (days.days - 3) / pow(groups.weight, 2) as day_variance,
    from groups
    inner join days
        on
            groups.client_id = days.client_id
            and groups.window_days = days.window_days
            and groups.kind = days.kind
            and groups.subject = days.subject
            and groups.is_own = days.is_own
    where days.days > 3
)

select
    client_id,
    window_days,
    kind,
    subject,
    is_own,
    m::integer as lifts,
    round(falling_share, 9) as falling_share,
    round(rate, 9) as rate,
    round(sqrt(day_variance + spread * concentration), 9) as rate_se,
    days::integer as days,
from told
