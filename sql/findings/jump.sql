-- One row per client and muscle whose weekly rate jumped against the month before, both months
-- trained without a layoff.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the muscle
-- severity: sets above the month before, as a share over rules.jump_sets
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the muscle alone
-- distance: distance from the threshold, by the spread of two counts [standard deviations]
-- sets_concerned: hard sets a week [sets]
with rates as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        status.weekly_rate,
        status.weekly_rate_before,
        status.rate_days,
        status.weekly_rate - status.weekly_rate_before as sets_more,
    from int_muscle__stood as status
    inner join int_client__looked as looks
        on
            status.client_id = looks.client_id
            and status.look_on = looks.look_on
            and looks.look_on - looks.first_on + 1 >= 2 * status.rate_days
),

layoffs as (
    select distinct
        looks.client_id,
        looks.look_on,
    from int_client_day__counted as days
    cross join review.rules as rules
    inner join int_client__looked as looks
        on days.client_id = looks.client_id and days.day <= looks.look_on
    inner join int_client__rounded as rounds
        on looks.client_id = rounds.client_id and looks.look_on = rounds.look_on
    where
        days.day - days.previous_day >= rules.not_trained_days
        and days.day > looks.look_on - 2 * rounds.rate_days
)

select
    'jump' as code,
    15 as lever,
    rates.client_id,
    rates.look_on,
    rates.muscle as subject,
    round(rates.sets_more / rules.jump_sets - 1, 9) as severity,
    json_object(
        'weekly_rate_sets', rates.weekly_rate,
        'month_before_sets', rates.weekly_rate_before,
        'ratio', round(rates.weekly_rate / nullif(rates.weekly_rate_before, 0), 9)
    ) as evidence,
    'Ask whether it was meant; if so, stay at this amount for three weeks before adding more.'
        as suggestion,
    [rates.muscle] as muscles,
    round(
        (rates.sets_more - rules.jump_sets)
        / sqrt((rates.weekly_rate + rates.weekly_rate_before) / (rates.rate_days / 7)),
        6
    ) as distance,
    rates.weekly_rate as sets_concerned,
from rates
cross join review.rules as rules
anti join layoffs on rates.client_id = layoffs.client_id and rates.look_on = layoffs.look_on
where
    rates.weekly_rate > rules.jump_ratio * rates.weekly_rate_before
    and rates.sets_more >= rules.jump_sets
