-- One row per set with a note, up to the as-of day.
-- grain: set_id
-- set_id: the set
-- client_id: the client
-- exercise: the exercise
-- performed_on: calendar day
-- notes: the note as logged
with run as (
    select as_of,
    from review.run
)

select
    sets.set_id,
    sets.client_id::client_key as client_id,
    sets.exercise::exercise_key as exercise,
    sets.performed_on,
    sets.notes,
from ledger.current_sets as sets
cross join run
semi join config_scope on sets.client_id = config_scope.client_id
where sets.notes is not null and sets.performed_on <= run.as_of
