-- One row per client and weigh-in day up to the as-of day; several of a day are averaged.
-- grain: client_id, performed_on
-- client_id: the client
-- performed_on: day of the weigh-in; null: holds for every day without one nearby
-- bodyweight_kg: bodyweight [kg]
with run as (
    select as_of,
    from review.run
)

select
    bodyweights.client_id,
    bodyweights.performed_on,
    round(avg(bodyweights.bodyweight_kg), 9) as bodyweight_kg,
from ledger.bodyweights as bodyweights
cross join run
semi join config_scope on bodyweights.client_id = config_scope.client_id
where
    bodyweights.replaced_by is null
    and (bodyweights.performed_on is null or bodyweights.performed_on <= run.as_of)
group by all
