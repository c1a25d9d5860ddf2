-- One row per client, lift and day on which a change of that lift was noted (another machine, gym or
-- form of it), up to the as-of day.
-- grain: client_id, exercise, changed_on
-- client_id: the client
-- exercise: the exercise, as the log's lifts are named
-- changed_on: first day of the changed lift
select distinct
    config_changes.client_id::client_key as client_id,
    config_changes.exercise::exercise_key as exercise,
    config_changes.changed_on,
from config_changes
cross join review.run as run
semi join config_scope on config_changes.client_id = config_scope.client_id
where
    config_changes.changed_on <= run.as_of
    -- of a lift that nobody has ever logged there is nothing to begin anew
    and try_cast(config_changes.exercise as exercise_key) is not null
