-- How a muscle's weekly rate stands to the guide: below, within, above; null: not judged. What
-- muscle_status and `setledger whatif` share. Parameters:
--   rate: hard sets a week; null: not judged [sets a week]
--   low_rate: the rate held against the low end: for lats and upper back that of both together
--   guide_low: low end; null: none [sets a week]
--   guide_high: high end; null: none [sets a week]
--   margin: how far outside is no matter [sets a week]
--   may_be_below: whether a low rate can be read as too little
create or replace temporary macro standing_to_guide(
    rate, low_rate, guide_low, guide_high, margin, may_be_below
) as (
    case
        when rate is null then null
        when rate > guide_high + margin then 'above'
        when low_rate < guide_low - margin then case when may_be_below then 'below' end
        when guide_low is not null or guide_high is not null then 'within'
    end
)
