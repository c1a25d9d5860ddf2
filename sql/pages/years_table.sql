-- One row per calendar year of the log of the client $client_id, the latest first: what was done in
-- it, from its months, and bodyweight in the middle of its weigh-ins.
with weighed as (
    select
        year(performed_on) as year,
        median(bodyweight_kg) as bodyweight_kg,
    from ledger.bodyweights
    where client_id = $client_id and performed_on is not null and replaced_by is null
    group by all
)

select
    year(months.month) as year,
    sum(months.days)::integer as days,
    sum(months.sessions)::integer as sessions,
    7 * sum(months.sessions) / sum(months.days) as weekly_sessions,
    7 * sum(months.hard_sets) / sum(months.days) as weekly_hard_sets,
    7 * sum(months.rest_days) / sum(months.days) as weekly_rest_days,
    sum(months.new_bests)::integer as new_bests,
    any_value(weighed.bodyweight_kg) as bodyweight_kg,
from review.training_month as months
left join weighed on year(months.month) = weighed.year
where months.client_id = $client_id and months.days > 0
group by all
order by 1 desc
