-- One row per finding that the coach put aside and that is aside at the as-of day.
-- grain: client_id, code, subject
-- client_id: the client
-- code: name of the finding
-- subject: muscle, lift or fault; empty: whatever it is about
-- until_on: last day; null: until further notice
select
    waived.client_id,
    waived.code,
    coalesce(waived.subject, '') as subject,
    max(coalesce(waived.until_on, date '9999-12-31')) as until_on,
from config_waived as waived
cross join review.run as run
semi join config_scope on waived.client_id = config_scope.client_id
where waived.until_on is null or waived.until_on >= run.as_of
group by all
