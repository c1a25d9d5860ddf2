-- One row per client and look of someone who was away of late, in a layoff or in care, or is still within the weeks in which
-- work is rebuilt after it: how long, and how much was done before and since. Of several the longest.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- kind: layoff or care
-- last_before_on: last day before it
-- back_on: first day after it
-- layoff_days: from the one to the other [days]
-- is_long: whether it was a long one
-- sessions_since: sessions since then [sessions]
-- sets_7d: hard sets of the last seven days [sets]
-- sets_since: hard sets a week since then [sets a week]
-- usual_sets: hard sets a week in the rules.rate_days before it [sets a week]
-- is_rebuilt: whether a week or more after it the last seven days hold about the usual sets
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
        looks.client_id,
        looks.look_on,
        layoffs.kind,
        layoffs.last_before_on,
        layoffs.back_on,
        layoffs.back_on - layoffs.last_before_on as layoff_days,
        layoff_days >= rules.long_layoff_days as is_long,
    from layoffs
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            layoffs.client_id = looks.client_id
            and layoffs.back_on <= looks.look_on
            and layoffs.last_before_on >= looks.first_on
    where
        layoffs.back_on > looks.look_on
        - case when is_long then rules.long_return_days else rules.return_days end
    qualify
        row_number() over (
            partition by looks.client_id, looks.look_on
            order by layoff_days desc, layoffs.back_on desc, layoffs.kind
        ) = 1
),

day_sums as (
    select
        layoffs.client_id,
        layoffs.look_on,
        count(*) filter (where days.day >= layoffs.back_on) as sessions_since,
        coalesce(sum(days.hard_sets) filter (where days.day >= layoffs.back_on), 0) as sets_since,
        coalesce(
            sum(days.hard_sets) filter (where days.day > layoffs.look_on - 7), 0
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
            and days.day <= layoffs.look_on
    group by all
),

amounts as (
    select
        layoffs.*,
        day_sums.sessions_since,
        day_sums.sets_7d,
        7 * day_sums.sets_since / greatest(layoffs.look_on - layoffs.back_on + 1, 7)
            as sets_since,
        7 * day_sums.sets_before / rules.rate_days as usual_sets,
    from latest_layoffs as layoffs
    cross join review.rules as rules
    inner join day_sums
        on layoffs.client_id = day_sums.client_id and layoffs.look_on = day_sums.look_on
)

select
    amounts.*,
    amounts.look_on - amounts.back_on >= 6
    and amounts.usual_sets > 0
    and amounts.sets_7d >= rules.rebuilt_share * amounts.usual_sets as is_rebuilt,
from amounts
cross join review.rules as rules
