-- One row per client, span of days and group of lifts: the group judged together. All lifts; and of
-- the last span of client_trend those with a direct muscle of a body part, or one muscle as a direct one,
-- and the client's others beside them. The mean of their slopes, weighted by what each can tell, with
-- the spread between lifts (DerSimonian and Laird 1986, random effects). What a day gives to all its
-- lifts alike is summed inside the day before it is squared, so that noise which the lifts share
-- counts once and not once a lift.
-- grain: client_id, pair, from_on, kind, subject, is_own
-- client_id: the client
-- pair: what the span belongs to, see int_client_span__drawn
-- from_on: first day of the span
-- until_on: last day of the span
-- window_days: its length [days]
-- kind: all, body_part or muscle
-- subject: the body part or muscle; all: all lifts
-- is_own: whether they are the subject's lifts, or the client's others
-- lifts: lifts with rules.joint_min_sessions in each span of the pair
-- falling_share: share of them that point down
-- rate: mean change a week [%/week]
-- rate_se: its standard error, spread between lifts included [%/week]
-- days: days with a session
-- correlation: how alike neighbouring days are, drawn towards rules.correlation_low; rate_se does not
-- hold it
with rules as (
    select *,
    from review.rules
),

-- a lift counts in the run that it ends the span with, and until it has not been trained for
-- rules.not_trained_days
ends as (
    select
        spans.*,
        cleaned.exercise,
        cleaned.run,
        coalesce(
            cleaned.day - cleaned.run_from <= rules.trend_days
            and cleaned.best_in_run < cleaned.best_before,
            false
        ) as is_regaining,
    from int_client_span__drawn as spans
    cross join rules
    inner join int_lift_session__cleaned as cleaned
        on
            spans.client_id = cleaned.client_id
            and cleaned.day between spans.from_on and spans.until_on
    where spans.until_on - cleaned.day < rules.not_trained_days
    qualify
        row_number() over (
            partition by spans.client_id, spans.pair, spans.from_on, cleaned.exercise
            order by cleaned.day desc
        ) = 1
),

-- a look knows the levels that were found by then; of a change both sides are looked back upon
levelled as (
    select
        ends.*,
        known.steps,
        known.edges,
    from ends
    left join int_lift_look__drawn as known
        on
            ends.client_id = known.client_id
            and ends.exercise = known.exercise
            and ends.run = known.run
            and (ends.sides = 2 or known.last_day <= ends.until_on)
    where not ends.is_regaining
    qualify
        row_number() over (
            partition by ends.client_id, ends.exercise, ends.pair, ends.from_on
            order by known.week desc nulls last
        ) = 1
),

numbered as (
    select
        *,
        row_number() over (order by client_id, exercise, pair, from_on) as lift,
    from levelled
),

sessions as (
    select
        numbered.lift,
        numbered.client_id,
        numbered.exercise,
        numbered.pair,
        numbered.sides,
        numbered.from_on,
        numbered.until_on,
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
            and cleaned.day between numbered.from_on and numbered.until_on
    where cleaned.log_value is not null
),

centred as (
    select
        lift,
        client_id,
        exercise,
        pair,
        sides,
        from_on,
        until_on,
        day,
        t - avg(t) over in_group as x,
        y - avg(y) over in_group as y,
        row_number() over in_group as nth,
    from sessions
    window in_group as (partition by lift, band, level)
),

told_lifts as (
    select
        centred.lift,
        any_value(client_id) as client_id,
        any_value(exercise) as exercise,
        any_value(pair) as pair,
        any_value(sides) as sides,
        any_value(from_on) as from_on,
        any_value(until_on) as until_on,
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

lifts as (
    select *,
    from told_lifts
    qualify count(*) over (partition by client_id, pair, exercise) >= sides
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
    inner join client_subjects on lifts.client_id = client_subjects.client_id
    left join lift_subjects
        on
            lifts.lift = lift_subjects.lift
            and client_subjects.kind = lift_subjects.kind
            and client_subjects.subject = lift_subjects.subject
    inner join int_client__logged as clients
        on lifts.client_id = clients.client_id and lifts.until_on = clients.last_on
    where lifts.pair = 'trend'
),

groups as (
    select
        client_id,
        pair,
        from_on,
        until_on,
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
        grouped.pair,
        grouped.from_on,
        grouped.kind,
        grouped.subject,
        grouped.is_own,
        centred.day,
        sum(centred.x * (centred.y - grouped.rate * centred.x)) as error,
        avg(centred.y - grouped.rate * centred.x) as mean_error,
    from centred
    inner join grouped on centred.lift = grouped.lift
    group by all
),

neighbours as (
    select
        *,
        lag(mean_error) over (
            partition by client_id, pair, from_on, kind, subject, is_own
            order by day
        ) as error_before,
    from day_sums
),

-- residuals of a line seem less alike than they are, by about 3 / days
days as (
    select
        client_id,
        pair,
        from_on,
        kind,
        subject,
        is_own,
        count(*) as days,
        sum(error * error) as squares,
        coalesce(
            sum(mean_error * error_before) / nullif(sum(mean_error * mean_error), 0), 0
        ) + 3 / days as likeness,
    from neighbours
    group by all
),

told as (
    select
        groups.*,
        days.days,
        days.likeness,
        days.squares * days.days / (days.days - 3) / pow(groups.weight, 2) as day_variance,
    from groups
    inner join days
        on
            groups.client_id = days.client_id
            and groups.pair = days.pair
            and groups.from_on = days.from_on
            and groups.kind = days.kind
            and groups.subject = days.subject
            and groups.is_own = days.is_own
    where days.days > 3
)

select
    client_id,
    pair,
    from_on,
    until_on,
    until_on - from_on + 1 as window_days,
    kind,
    subject,
    is_own,
    m::integer as lifts,
    round(falling_share, 9) as falling_share,
    round(rate, 9) as rate,
    round(sqrt(day_variance + spread * concentration), 9) as rate_se,
    days::integer as days,
    round(
        least(
            greatest(
                (days * likeness + rules.correlation_sessions * rules.correlation_low)
                / (days + rules.correlation_sessions),
                0
            ),
            rules.correlation_high
        ),
        9
    ) as correlation,
from told
cross join rules
