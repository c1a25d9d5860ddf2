-- One row per weigh-in behind the trend of bodyweight: those of the days that the trend looks at.
-- Several of a day are averaged. No sets stand behind it but those of client_trend.
-- grain: path, source_line
-- kind: weigh-ins
-- path: file
-- source_line: line in the file
-- performed_on: calendar day
-- bodyweight_kg: bodyweight [kg]
-- counts: what it gave to the figure [kg]
-- why: what it counted and why
select
    coalesce(loads.path, bodyweights.source) as path,
    bodyweights.source_line,
    bodyweights.performed_on,
    bodyweights.bodyweight_kg,
    bodyweights.bodyweight_kg as counts,
    case when trend.is_cutting then 'weigh-in of the cut' else 'weigh-in' end as why,
from ledger.bodyweights as bodyweights
inner join review.bodyweight_trend as trend
    on
        bodyweights.client_id = trend.client_id
        and bodyweights.performed_on between trend.first_on and trend.last_on
left join ledger.loads as loads on bodyweights.load_id = loads.load_id
where bodyweights.client_id = $client_id and bodyweights.replaced_by is null
order by bodyweights.performed_on, path, bodyweights.source_line
