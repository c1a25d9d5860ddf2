-- One row: hard sets a week of a muscle before and after a change, as arithmetic. What findings and
-- `setledger whatif` share. Parameters:
--   sets_per_hit: sets a hit gives the muscle; weekly rate × days_between_hits / 7 keeps what other
--     days add indirectly [sets]
--   days_between_hits: days from one hit to the next, on average [days]
--   rotation_days: length of one round of the rotation; default: from hit to hit [days]
--   rest_days: days without training put into each round [days]
--   sets_added: sets added to each hit, below 0: taken away [sets]
--   split_over: number of days that a hit's sets are spread over [days]
-- 8 sets every 4 days are 14 a week; with one rest day a round, 8 every 5 days: 11.2.
-- grain: one row
-- sets_per_hit_before: sets a hit gives now [sets]
-- sets_per_hit_after: sets a hit gives after the change; never below 0 [sets]
-- days_between_before: days from one hit to the next now [days]
-- days_between_after: days from one hit to the next after the change [days]
-- weekly_rate_before: sets a week now; null: no hits [sets a week]
-- weekly_rate_after: sets a week after the change [sets a week]
create or replace temporary macro changed_rate(
    sets_per_hit,
    days_between_hits,
    rotation_days := null,
    rest_days := 0,
    sets_added := 0,
    split_over := 1
) as table
with given as (
    select
        sets_per_hit::double as sets_before,
        nullif(days_between_hits, 0)::double as days_before,
        nullif(coalesce(rotation_days, days_between_hits), 0)::double as round_before,
        rest_days::double as rest_days_added,
        sets_added::double as sets_more,
        split_over::double as parts,
),

changed as (
    select
        sets_before,
        days_before,
        case
            when sets_before is not null then greatest(sets_before + sets_more, 0) / parts
        end as sets_after,
        days_before * (round_before + rest_days_added) / round_before / parts as days_after,
    from given
)

select
    round(sets_before, 9) as sets_per_hit_before,
    round(sets_after, 9) as sets_per_hit_after,
    round(days_before, 9) as days_between_before,
    round(days_after, 9) as days_between_after,
    round(7 * sets_before / days_before, 9) as weekly_rate_before,
    round(7 * sets_after / days_after, 9) as weekly_rate_after,
from changed
