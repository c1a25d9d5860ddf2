-- One row per client who changes exercises so often that little of the work can be followed, in the
-- latest week that can be judged.
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
with latest_weeks as (
    select
        turnover.client_id,
        looks.look_on,
        turnover.week,
        turnover.exercises,
        turnover.kept_share,
        turnover.trackable_share,
        turnover.is_judged,
    from review.exercise_turnover as turnover
    inner join int_client__looked as looks
        on
            turnover.client_id = looks.client_id
            and (looks.is_last or turnover.week + 6 <= looks.look_on)
    qualify
        row_number() over (
            partition by turnover.client_id, looks.look_on
            order by turnover.week desc
        ) = 1
)

select
    'turnover' as code,
    13 as lever,
    weeks.client_id,
    weeks.look_on,
    '' as subject,
    round(1 - weeks.trackable_share / rules.trackable_share_min, 9) as severity,
    json_object(
        'trackable_share', weeks.trackable_share,
        'kept_share', weeks.kept_share,
        'exercises', weeks.exercises
    ) as evidence,
    'Choose one lift for each body part and keep it for the next eight weeks.' as suggestion,
    null::varchar[] as muscles,
from latest_weeks as weeks
cross join review.rules as rules
where weeks.is_judged and weeks.trackable_share < rules.trackable_share_min
