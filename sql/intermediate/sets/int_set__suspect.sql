-- One row per work set with a load that the lift's own recent sets make unlikely: more than
-- rules.suspect_ratio times its best of the rules.reference_days before, and never reached again
-- later. Looked for twice, so that one slip neither hides nor confirms the next.
-- grain: set_id
-- set_id: the set
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        client_id,
        exercise,
        performed_on,
        max(effective_load_kg) as top_load_kg,
    from int_set__loaded
    where set_role = 'work' and effective_load_kg is not null
    group by all
),

compared_sessions as (
    select
        sessions.*,
        max(top_load_kg) over (
            partition by client_id, exercise
            order by performed_on
            range between to_days(rules.reference_days) preceding
            and to_days(1) preceding
        ) as best_before_kg,
        max(top_load_kg) over (
            partition by client_id, exercise
            order by performed_on
            rows between 1 following and unbounded following
        ) as best_after_kg,
    from sessions
    cross join rules
),

slips as (
    select
        compared_sessions.client_id,
        compared_sessions.exercise,
        compared_sessions.performed_on,
        greatest(
            best_before_kg * rules.suspect_ratio,
            coalesce(best_after_kg, 0) / rules.suspect_repeat_share
        ) + 1e-6 as limit_kg,
    from compared_sessions
    cross join rules
    -- a pound is no round number of kilograms: an even multiple may miss by a hair
    where top_load_kg > best_before_kg * rules.suspect_ratio + 1e-6
),

lifts_in_doubt as (
    select distinct
        client_id,
        exercise,
    from slips
),

-- the second look, at lifts with a doubtful session only
looked_at_sets as (
    select
        loaded.set_id,
        loaded.client_id,
        loaded.exercise,
        loaded.performed_on,
        loaded.effective_load_kg,
        coalesce(loaded.effective_load_kg > slips.limit_kg, false) as is_slip,
    from int_set__loaded as loaded
    semi join lifts_in_doubt
        on
            loaded.client_id = lifts_in_doubt.client_id
            and loaded.exercise = lifts_in_doubt.exercise
    left join slips
        on
            loaded.client_id = slips.client_id
            and loaded.exercise = slips.exercise
            and loaded.performed_on = slips.performed_on
    where loaded.set_role = 'work' and loaded.effective_load_kg is not null
),

cleaned_sessions as (
    select
        client_id,
        exercise,
        performed_on,
        max(effective_load_kg) filter (where not is_slip) as top_load_kg,
    from looked_at_sets
    group by all
),

compared_again as (
    select
        cleaned_sessions.*,
        max(top_load_kg) over (
            partition by client_id, exercise
            order by performed_on
            range between to_days(rules.reference_days) preceding
            and to_days(1) preceding
        ) as best_before_kg,
        max(top_load_kg) over (
            partition by client_id, exercise
            order by performed_on
            rows between 1 following and unbounded following
        ) as best_after_kg,
    from cleaned_sessions
    cross join rules
)

select looked_at_sets.set_id,
from looked_at_sets
cross join rules
inner join compared_again
    on
        looked_at_sets.client_id = compared_again.client_id
        and looked_at_sets.exercise = compared_again.exercise
        and looked_at_sets.performed_on = compared_again.performed_on
where
    looked_at_sets.effective_load_kg > compared_again.best_before_kg * rules.suspect_ratio + 1e-6
    and looked_at_sets.effective_load_kg * rules.suspect_repeat_share
    > coalesce(compared_again.best_after_kg, 0) + 1e-6
