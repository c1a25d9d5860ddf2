-- One row per lift of $exercises of the client $client_id with two calendar years or more: the year
-- of its best session, and the year in which that best rose most against the year before.
with years as (
    select
        exercise,
        year(day) as year,
        max(e1rm) as e1rm,
        arg_max(day, e1rm) as day,
    from review.lift_session
    where client_id = $client_id and e1rm is not null and list_contains($exercises, exercise)
    group by all
),

gains as (
    select
        *,
        100 * (e1rm / lag(e1rm) over (partition by exercise order by year) - 1) as gain_pct,
    from years
)

select
    exercise,
    arg_max(year, e1rm) as best_year,
    max(e1rm) as best_e1rm,
    arg_max(day, e1rm) as best_on,
    arg_max(year, gain_pct) as gain_year,
    max(gain_pct) as gain_pct,
from gains
group by exercise
having count(*) > 1
order by list_position($exercises, exercise)
