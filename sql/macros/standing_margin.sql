-- How far a weekly rate may lie outside the guide without being called so: half the sets of a usual
-- hit, spread over the weeks of the rate [sets a week]. Our own rule. Parameters:
--   sets_per_hit: direct hard sets of a usual hit; null: no hits [sets]
--   rate_days: span of the rate [days]
create or replace temporary macro standing_margin(sets_per_hit, rate_days) as (
    coalesce(sets_per_hit, 0) / 2 / (rate_days / 7)
)
