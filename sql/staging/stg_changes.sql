-- One row per client and day on which something was changed, up to the as-of day.
-- grain: client_id, changed_on
-- client_id: the client
-- changed_on: first day of the changed training
select distinct
    config_changes.client_id,
    config_changes.changed_on,
from config_changes
cross join review.run as run
semi join config_scope on config_changes.client_id = config_scope.client_id
where config_changes.changed_on <= run.as_of
