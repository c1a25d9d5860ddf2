-- One row per client who trained through most of the last weeks without a rest day in seven, with many
-- hard sets: easy daily practice needs no rest day. The
-- arithmetic is that of one rest day in each round, for the muscle with the highest rate against its
-- guide; without a fixed rotation a round is from hit to hit, on average.
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
with counts as (
    select
        looks.client_id,
        looks.look_on,
        count(*) filter (where days.rest_days_7d = 0) as restless_days,
        max(days.run_of_training_days) as longest_run,
        count(*) filter (where days.trained) as sessions,
        7 * sum(days.hard_sets) / rules.rate_days as weekly_hard_sets,
    from review.rhythm as days
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            days.client_id = looks.client_id
            and days.day > looks.look_on - rules.rate_days
            and days.day <= looks.look_on
    group by looks.client_id, looks.look_on, rules.rate_days
),

fullest_muscles as (
    select
        status.client_id,
        status.look_on,
        muscles.label,
        status.weekly_rate,
        least(rules.usual_days, looks.look_on - looks.first_on + 1)
        / status.hits_56d as hit_days,
        coalesce(rotation.days, hit_days) as round_days,
    from int_muscle__stood as status
    cross join review.rules as rules
    inner join int_client__looked as looks
        on status.client_id = looks.client_id and status.look_on = looks.look_on
    inner join stg_muscles as muscles on status.muscle = muscles.muscle
    left join int_client__rotated as rotation
        on status.client_id = rotation.client_id and status.look_on = rotation.look_on
    where status.weekly_rate > 0 and status.hits_56d > 0
    qualify
        row_number() over (
            partition by status.client_id, status.look_on
            order by status.weekly_rate / status.guide_high desc, muscles.position
        ) = 1
),

changed as (
    select
        fullest_muscles.*,
        rates.weekly_rate_before,
        rates.weekly_rate_after,
    from fullest_muscles,
        changed_rate(
            fullest_muscles.weekly_rate * fullest_muscles.hit_days / 7,
            fullest_muscles.hit_days,
            rotation_days := fullest_muscles.round_days,
            rest_days := 1
        ) as rates
)

select
    'rest' as code,
    7 as lever,
    counts.client_id::varchar as client_id,
    counts.look_on,
    '' as subject,
    round(counts.restless_days / rules.restless_days - 1, 9) as severity,
    json_object(
        'days_ending_a_week_without_rest', counts.restless_days,
        'longest_run_days', counts.longest_run,
        'sessions', counts.sessions,
        'weekly_hard_sets', round(counts.weekly_hard_sets, 9),
        'arithmetic', format(
            '{}: {:g} sets a week in rounds of {:g} days; with one rest day more, in rounds of '
            || '{:g} days, {:g}',
            lower(changed.label),
            round(changed.weekly_rate_before, 1),
            round(changed.round_days, 1),
            round(changed.round_days + 1, 1),
            round(changed.weekly_rate_after, 1)
        )
    ) as evidence,
    'Put one rest day into the rotation and leave the sessions as they are.' as suggestion,
    null::varchar[] as muscles,
from counts
cross join review.rules as rules
left join changed on counts.client_id = changed.client_id and counts.look_on = changed.look_on
where
    counts.restless_days > rules.restless_days
    and counts.weekly_hard_sets >= rules.rest_min_sets
