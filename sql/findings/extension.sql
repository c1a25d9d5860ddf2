-- One row per client who often goes on after failure (drops, rest-pause, partials) with muscles that
-- are trained often: they have to recover before the next hit. Compound sets count double; muscles hit
-- seldom are left out.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with frequent_muscles as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        status.median_gap_days,
    from int_muscle__stood as status
    cross join review.rules as rules
    where status.median_gap_days <= rules.frequent_gap_days
),

lift_sums as (
    select
        spans.client_id,
        spans.look_on,
        counted.exercise,
        sum(counted.hard_sets)::bigint as hard_sets,
        sum(counted.extended_sets)::bigint as extended_sets,
    from int_lift_session__counted as counted
    inner join int_client__spanned as spans
        on
            counted.client_id = spans.client_id
            and spans.span = 'current'
            and counted.day between spans.from_on and spans.to_on
    where counted.hard_sets > 0
    group by all
),

lifts as (
    select
        lift_sums.*,
        exercises.movement = 'compound' as is_compound,
        case when is_compound then rules.extension_compound_weight else 1 end as weight,
    from lift_sums
    cross join review.rules as rules
    inner join stg_exercises as exercises on lift_sums.exercise = exercises.exercise
),

lift_muscles as (
    select
        lifts.client_id,
        lifts.look_on,
        lifts.exercise,
        lifts.extended_sets > 0 as is_extended,
        frequent_muscles.muscle,
        frequent_muscles.median_gap_days,
    from lifts
    inner join review.exercise_muscles as exercise_muscles
        on lifts.exercise = exercise_muscles.exercise and exercise_muscles.role = 'direct'
    inner join frequent_muscles
        on
            lifts.client_id = frequent_muscles.client_id
            and lifts.look_on = frequent_muscles.look_on
            and exercise_muscles.muscle = frequent_muscles.muscle
),

concerned as (
    select
        client_id,
        look_on,
        list(distinct muscle order by muscle) as muscles,
        median(median_gap_days) as gap_days,
    from lift_muscles
    where is_extended
    group by all
),

shares as (
    select
        lifts.client_id,
        lifts.look_on,
        sum(lifts.hard_sets)::bigint as hard_sets,
        sum(lifts.extended_sets)::bigint as extended_sets,
        coalesce(
            sum(lifts.extended_sets) filter (where lifts.is_compound), 0
        )::bigint as extended_compound_sets,
        round(
            sum(lifts.extended_sets * lifts.weight) / sum(lifts.hard_sets * lifts.weight), 9
        ) as extended_share,
        round(
            coalesce(sum(lifts.extended_sets) filter (where not lifts.is_compound), 0)
            / sum(lifts.hard_sets * lifts.weight),
            9
        ) as isolation_share,
    from lifts
    semi join lift_muscles
        on
            lifts.client_id = lift_muscles.client_id
            and lifts.look_on = lift_muscles.look_on
            and lifts.exercise = lift_muscles.exercise
    group by all
)

select
    'extension' as code,
    6 as lever,
    shares.client_id::varchar as client_id,
    shares.look_on,
    '' as subject,
    round(shares.extended_share / rules.extension_share - 1, 9) as severity,
    json_object(
        'extended_share', shares.extended_share,
        'extended_sets', shares.extended_sets,
        'extended_compound_sets', shares.extended_compound_sets,
        'hard_sets', shares.hard_sets,
        'usual_gap_days', round(concerned.gap_days, 9),
        'arithmetic', case
            when shares.extended_compound_sets > 0
                then format(
                    'compound sets counted double, {:.0f} % go on after failure; '
                    || 'without those on compound lifts {:.0f} %',
                    100 * shares.extended_share,
                    100 * shares.isolation_share
                )
        end
    ) as evidence,
    case
        when shares.extended_compound_sets > 0
            then 'Leave out the drops and partials on compound lifts for four weeks.'
        else 'Keep drops and partials for the last set of an exercise, for four weeks.'
    end as suggestion,
    concerned.muscles,
from shares
cross join review.rules as rules
inner join concerned
    on shares.client_id = concerned.client_id and shares.look_on = concerned.look_on
where
    shares.hard_sets >= rules.share_min_sets
    and shares.extended_share > rules.extension_share
