-- One row per change that was noted of a client, up to the as-of day.
-- grain: client_id, changed_on, code, subject
-- client_id: the client
-- changed_on: first day of the changed training
-- code: the finding that it was adopted from; empty: none
-- subject: what that is about; empty: the client as a whole
-- is_of_lift: whether it names a lift (another machine, gym or form of it), and is no change in the
-- training
select
    config_changes.client_id,
    config_changes.changed_on,
    coalesce(config_changes.code, '') as code,
    coalesce(config_changes.subject, '') as subject,
    bool_and(config_changes.exercise is not null) as is_of_lift,
from config_changes
cross join review.run as run
semi join config_scope on config_changes.client_id = config_scope.client_id
where config_changes.changed_on <= run.as_of
group by all
