-- One row per client of this build.
-- grain: client_id
-- client_id: the client
-- name: name on the page
-- units: kg or lb: what the page shows
-- until_on: last day with us, null: still here
-- is_listed: whether setledger.toml lists the client
select
    config_clients.client_id,
    config_clients.name,
    config_clients.units,
    config_clients.until_on,
    config_clients.is_listed,
from config_clients
semi join config_scope on config_clients.client_id = config_scope.client_id
