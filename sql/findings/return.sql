-- One row per client back from a layoff, for rules.return_days: work is rebuilt, not resumed.
-- grain: client_id, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with layoffs as (
    select
        days.client_id,
        max(days.day) as back_on,
        max(days.previous_day) as last_before_on,
    from int_client_day__counted as days
    cross join review.rules as rules
    inner join int_client__logged as clients on days.client_id = clients.client_id
    where
        days.day - days.previous_day >= rules.not_trained_days
        and days.day > clients.covered_on - rules.return_days
    group by all
),

amounts as (
    select
        layoffs.client_id,
        layoffs.back_on,
        layoffs.back_on - layoffs.last_before_on as layoff_days,
        count(*) filter (where days.day >= layoffs.back_on) as sessions_since,
        7 * coalesce(sum(days.hard_sets) filter (where days.day >= layoffs.back_on), 0)
        / greatest(max(days.day) - layoffs.back_on + 1, 7) as sets_since,
        coalesce(
            sum(days.hard_sets) filter (
                where
                days.day between layoffs.last_before_on - rules.rate_days + 1
                and layoffs.last_before_on
            ),
            0
        ) / (rules.rate_days / 7) as usual_sets,
    from layoffs
    cross join review.rules as rules
    inner join int_client_day__counted as days on layoffs.client_id = days.client_id
    group by layoffs.client_id, layoffs.back_on, layoffs.last_before_on, rules.rate_days
)

select
    'return' as code,
    3 as lever,
    amounts.client_id::varchar as client_id,
    '' as subject,
    round(amounts.layoff_days / rules.not_trained_days - 1, 9) as severity,
    json_object(
        'layoff_days', amounts.layoff_days,
        'back_since_on', amounts.back_on,
        'sessions_since', amounts.sessions_since,
        'weekly_sets_since', round(amounts.sets_since, 9),
        'weekly_sets_before', round(amounts.usual_sets, 9),
        'arithmetic', case
            when amounts.usual_sets > 0
                then format(
                    'before the layoff {:g} hard sets a week; about {:.0f} % of them are {:g}',
                    round(amounts.usual_sets, 1),
                    100 * rules.return_share,
                    round(amounts.usual_sets * rules.return_share)
                )
        end
    ) as evidence,
    'Do about half the usual sets with lighter loads, and rebuild over two to four weeks.'
        as suggestion,
    null::varchar[] as muscles,
from amounts
cross join review.rules as rules
