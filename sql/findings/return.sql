-- One row per client back from a layoff or from care: work is rebuilt, not resumed, for longer and from
-- lower after a long time. Not for who is rebuilt already: a week back with about the usual sets.
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
        days.previous_day as last_before_on,
        days.day as back_on,
        'layoff' as kind,
    from int_client_day__counted as days
    cross join review.rules as rules
    where days.day - days.previous_day >= rules.not_trained_days
    union all
    select
        client_id,
        from_on - 1 as last_before_on,
        to_on + 1 as back_on,
        kind,
    from stg_phases
    cross join review.rules as rules
    where kind = 'care' and to_on - from_on + 1 >= rules.not_trained_days
),

-- a layoff inside a phase of care, or one that goes on after it, is told once: the longer one
latest_layoffs as (
    select
        layoffs.client_id,
        layoffs.kind,
        layoffs.last_before_on,
        layoffs.back_on,
        clients.covered_on,
        layoffs.back_on - layoffs.last_before_on as layoff_days,
        layoff_days >= rules.long_layoff_days as is_long,
    from layoffs
    cross join review.rules as rules
    inner join int_client__logged as clients
        on
            layoffs.client_id = clients.client_id
            and layoffs.back_on <= clients.covered_on
            and layoffs.last_before_on >= clients.first_on
    where
        layoffs.back_on > clients.covered_on
        - case when is_long then rules.long_return_days else rules.return_days end
    qualify
        row_number() over (
            partition by layoffs.client_id
            order by layoff_days desc, layoffs.back_on desc, layoffs.kind
        ) = 1
),

day_sums as (
    select
        layoffs.client_id,
        count(*) filter (where days.day >= layoffs.back_on) as sessions_since,
        coalesce(sum(days.hard_sets) filter (where days.day >= layoffs.back_on), 0) as sets_since,
        coalesce(
            sum(days.hard_sets) filter (where days.day > layoffs.covered_on - 7), 0
        ) as sets_7d,
        coalesce(
            sum(days.hard_sets) filter (where days.day <= layoffs.last_before_on), 0
        ) as sets_before,
    from latest_layoffs as layoffs
    cross join review.rules as rules
    inner join int_client_day__counted as days
        on
            layoffs.client_id = days.client_id
            and days.day > layoffs.last_before_on - rules.rate_days
    group by all
),

amounts as (
    select
        layoffs.*,
        day_sums.sessions_since,
        day_sums.sets_7d,
        7 * day_sums.sets_since / greatest(layoffs.covered_on - layoffs.back_on + 1, 7)
            as sets_since,
        7 * day_sums.sets_before / rules.rate_days as usual_sets,
    from latest_layoffs as layoffs
    cross join review.rules as rules
    inner join day_sums on layoffs.client_id = day_sums.client_id
),

returns as (
    select
        amounts.*,
        case
            when amounts.is_long then rules.long_return_share else rules.return_share
        end as share,
    from amounts
    cross join review.rules as rules
    where
        not (
            amounts.covered_on - amounts.back_on >= 6
            and amounts.usual_sets > 0
            and amounts.sets_7d >= rules.rebuilt_share * amounts.usual_sets
        )
)

select
    'return' as code,
    3 as lever,
    returns.client_id::varchar as client_id,
    '' as subject,
    round(returns.layoff_days / rules.not_trained_days - 1, 9) as severity,
    json_object(
        'after', returns.kind,
        'layoff_days', returns.layoff_days,
        'back_since_on', returns.back_on,
        'sessions_since', returns.sessions_since,
        'weekly_sets_since', round(returns.sets_since, 9),
        'weekly_sets_before', round(returns.usual_sets, 9),
        'arithmetic', case
            when returns.usual_sets > 0
                then format(
                    'before it {:g} hard sets a week; about {:.0f} % of them are {:g}',
                    round(returns.usual_sets, 1),
                    100 * returns.share,
                    round(returns.usual_sets * returns.share)
                )
        end
    ) as evidence,
    concat(
        case
            when returns.is_long
                then 'Begin with about a third of the usual sets and clearly lighter loads, and '
                    || 'rebuild over four to eight weeks'
            else 'Do about half the usual sets with lighter loads, and rebuild over two to '
                || 'four weeks'
        end,
        case
            when returns.kind = 'care' then ', within what your licensed professional has cleared'
        end,
        '.'
    ) as suggestion,
    null::varchar[] as muscles,
from returns
cross join review.rules as rules
