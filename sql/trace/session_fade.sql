-- One row per hard set behind the fade of a muscle's sessions: the sets of 26 weeks.
-- grain: set_id
-- set_id: the set
-- counts: its strength index [kg]
-- why: what it counted and why
select
    traced.set_id,
    traced.strength_index as counts,
    concat_ws(', ', traced.judged, roles.role || ' for ' || roles.muscle) as why,
from traced_sets as traced
inner join review.exercise_muscles as roles on traced.exercise = roles.exercise
cross join review.rules as rules
where
    traced.client_id = $client_id
    and traced.is_hard
    and roles.role = 'direct'
    and ($muscle is null or roles.muscle = $muscle)
    and traced.performed_on > (
        select max(performed_on) - rules.fade_days,
        from ledger.current_sets
        cross join review.run as run
        where client_id = $client_id and performed_on <= run.as_of
    )
