-- One row per client and muscle whose guide was changed.
-- grain: client_id, muscle
-- client_id: the client
-- muscle: the muscle
-- week_low: low end a week, null: the default [sets]
-- week_high: high end a week, null: the default [sets]
-- session_low: low end a session, null: the default [sets]
-- session_high: high end a session, null: the default [sets]
select
    config_guides.client_id,
    config_guides.muscle,
    config_guides.week_low,
    config_guides.week_high,
    config_guides.session_low,
    config_guides.session_high,
from config_guides
semi join config_scope on config_guides.client_id = config_scope.client_id
