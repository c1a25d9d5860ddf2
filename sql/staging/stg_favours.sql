-- One row per client and muscle that the client marked.
-- grain: client_id, muscle
-- client_id: the client
-- muscle: the muscle
-- favour: bring_up or hold_back
select distinct
    config_favours.client_id,
    config_favours.muscle,
    config_favours.favour,
from config_favours
semi join config_scope on config_favours.client_id = config_scope.client_id
