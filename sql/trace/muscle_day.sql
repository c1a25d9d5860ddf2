-- One row per hard set behind a muscle's figures of one day.
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
cross join review.run as run
where
    traced.client_id = $client_id
    and traced.is_hard
    and ($muscle is null or roles.muscle = $muscle)
    and ($column not like 'direct%' or roles.role = 'direct')
    and traced.performed_on = coalesce($on::date, run.as_of)
