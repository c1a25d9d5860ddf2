-- One row per client, look and muscle over the weekly rate's span before it: how far from failure its
-- direct work sets end, and its rate if every work set were a hard one. Heavy sets of few repetitions
-- are no sign of too little effort.
-- grain: client_id, look_on, muscle
-- client_id: the client
-- look_on: the look
-- muscle: the muscle
-- work_sets: work sets that train it directly
-- recorded_sets: those with recorded effort
-- easy_sets: recorded sets far from failure, heavy ones left out
-- sets_per_session: median of its direct work sets on days with any
-- work_rate: fractional work sets a week, possible warm-ups left out; with muscles that share the
-- guide's low end together [sets a week]
with lifts as (
    select
        recent.client_id,
        recent.look_on,
        recent.exercise,
        recent.day,
        count(*) as work_sets,
        count(recent.whole_rir) as recorded_sets,
        count(*) filter (
            where
            recent.whole_rir >= rules.easy_rir and not recent.is_heavy
        ) as easy_sets,
        count(*) filter (where not recent.may_be_warmup) as likely_sets,
    from int_set__recent as recent
    cross join review.rules as rules
    group by all
),

direct_days as (
    select
        lifts.client_id,
        lifts.look_on,
        exercise_muscles.muscle,
        lifts.day,
        sum(lifts.work_sets) as work_sets,
        sum(lifts.recorded_sets) as recorded_sets,
        sum(lifts.easy_sets) as easy_sets,
    from lifts
    inner join review.exercise_muscles as exercise_muscles
        on lifts.exercise = exercise_muscles.exercise
    where exercise_muscles.role = 'direct'
    group by all
),

direct_sums as (
    select
        client_id,
        look_on,
        muscle,
        sum(work_sets) as work_sets,
        sum(recorded_sets) as recorded_sets,
        sum(easy_sets) as easy_sets,
        median(work_sets) as sets_per_session,
    from direct_days
    group by all
),

-- a set counts once for muscles that share a low end
low_ends as (
    select
        guided.client_id,
        guided.muscle,
        others.muscle as counted_muscle,
    from int_client_muscle__guided as guided
    inner join stg_muscles as others
        on guided.muscle = others.muscle or guided.low_end_group = others.low_end_group
),

set_weights as (
    select
        low_ends.client_id,
        low_ends.muscle,
        exercise_muscles.exercise,
        max(exercise_muscles.weight) as weight,
    from low_ends
    inner join review.exercise_muscles as exercise_muscles
        on low_ends.counted_muscle = exercise_muscles.muscle
    group by all
),

lift_sums as (
    select
        client_id,
        look_on,
        exercise,
        sum(likely_sets) as likely_sets,
    from lifts
    group by all
),

work_rates as (
    select
        lift_sums.client_id,
        lift_sums.look_on,
        set_weights.muscle,
        sum(lift_sums.likely_sets * set_weights.weight) / spans.weeks as work_rate,
    from lift_sums
    inner join set_weights
        on
            lift_sums.client_id = set_weights.client_id
            and lift_sums.exercise = set_weights.exercise
    inner join int_client__spanned as spans
        on
            lift_sums.client_id = spans.client_id
            and lift_sums.look_on = spans.look_on
            and spans.span = 'current'
    group by lift_sums.client_id, lift_sums.look_on, set_weights.muscle, spans.weeks
)

select
    work_rates.client_id,
    work_rates.look_on,
    work_rates.muscle,
    coalesce(direct_sums.work_sets, 0)::bigint as work_sets,
    coalesce(direct_sums.recorded_sets, 0)::bigint as recorded_sets,
    coalesce(direct_sums.easy_sets, 0)::bigint as easy_sets,
    direct_sums.sets_per_session,
    round(work_rates.work_rate, 9) as work_rate,
from work_rates
left join direct_sums
    on
        work_rates.client_id = direct_sums.client_id
        and work_rates.look_on = direct_sums.look_on
        and work_rates.muscle = direct_sums.muscle
