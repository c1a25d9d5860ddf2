-- One row per hard set behind a muscle's figures at the client's last covered day: 7, 28, the 28
-- before, 56 days, whole rounds or those before by column.
-- grain: set_id
-- set_id: the set
-- counts: what it counted for the muscle [sets]
-- why: what it counted and why
select
    traced.set_id,
    case when $column like 'direct%' then (roles.role = 'direct')::integer
        when $column like 'all%' then 1
        else roles.weight
    end as counts,
    concat_ws(', ', traced.judged, roles.role || ' for ' || roles.muscle) as why,
from traced_sets as traced
inner join review.exercise_muscles as roles on traced.exercise = roles.exercise
inner join review.coverage as coverage on traced.client_id = coverage.client_id
where
    traced.client_id = $client_id
    and traced.is_hard
    and ($muscle is null or roles.muscle = $muscle)
    and ($column not like 'direct%' or roles.role = 'direct')
    and coverage.covered_on - traced.performed_on between
    case
        when $column like '%prev_28d' then 28
        when $column = 'weekly_rate_before' then coverage.rate_days
        else 0
    end
    and case
        when $column like '%7d' then 6
        when $column like '%prev_28d' then 55
        when $column like 'median%' or $column like '%56d' then 55
        when $column like '%28d' then 27
        when $column = 'weekly_rate_before' then 2 * coverage.rate_days - 1
        else coverage.rate_days - 1
    end
