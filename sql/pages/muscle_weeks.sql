-- One row per muscle ever trained by the client $client_id and end of the $weeks weeks to $last_on:
-- what review.rolling_week says of these days, from the training days of each week alone, for the
-- view counts every day of the log.
with ends as (
    select
        $last_on::date - 7 * unnest(range(0, $weeks))::integer as day,
),

spans as (
    select
        muscles.muscle,
        ends.day,
    from ends
    inner join review.coverage as coverage
        on coverage.client_id = $client_id and ends.day >= coverage.first_on
    cross join review.muscles as muscles
)

select
    spans.muscle,
    spans.day,
    coalesce(sum(days.fractional_sets), 0) as fractional_sets_7d,
    count(*) filter (where days.direct_sets > 0)::integer as hits_7d,
from spans
left join review.muscle_day as days
    on
        days.client_id = $client_id
        and spans.muscle = days.muscle
        and days.day > spans.day - 7
        and days.day <= spans.day
group by spans.muscle, spans.day
order by spans.muscle, spans.day
