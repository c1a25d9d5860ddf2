-- One row per client and place in a run of training days: how strong the lifts are on that day beside
-- the first day after a day off, over rules.trend_days_max to the client's last session. All lifts
-- together: each against its own line, so that neither the choice of lifts nor progress counts as
-- recovery; a day's noise, which its lifts share, counts once. A run ends at a rest day (under
-- rules.rest_day_sets hard sets). It shows what goes together, not what causes it. How often it says
-- something where nothing is: tests/README.md.
-- grain: client_id, place
-- client_id: the client
-- place: second, third, … day; rules.recovery_places: or later; 0: each day further into a run
-- lifts: lifts that were trained on days of both kinds [lifts]
-- first_days: days when first after a day off [days]
-- later_days: days at that place; of 0: all days later in a run [days]
-- difference_pct: strength against the first day; of 0: change with each day [%]
-- low: lower end of its 95 % interval [%]
-- high: upper end [%]
-- is_told: whether the review says so: of 0, where so clear a difference has less
-- than rules.recovery_p of chance to either side
with lifts as (
    select
        client_id,
        place,
        exercise,
        run,
        band,
        stretch,
    from int_run_session__compared
    group by all
    -- a lift that is always done at the same place says nothing
    having sum(x * x) > 1e-6
),

sessions as (
    select compared.*,
    from int_run_session__compared as compared
    semi join lifts
        on
            compared.client_id = lifts.client_id
            and compared.place = lifts.place
            and compared.exercise = lifts.exercise
            and compared.run = lifts.run
            and compared.band = lifts.band
            and compared.stretch = lifts.stretch
),

rates as (
    select
        client_id,
        place,
        sum(x * x) as weight,
        sum(x * y) / weight as rate,
        count(*) as sessions,
        count(distinct exercise) as lifts,
        count(distinct [exercise, run::varchar, band::varchar, stretch::varchar]) as lines,
        count(distinct day) filter (where is_first) as first_days,
        count(distinct day) filter (where not is_first) as later_days,
    from sessions
    group by all
),

day_errors as (
    select
        sessions.client_id,
        sessions.place,
        sessions.day,
        sum(sessions.x * (sessions.y - rates.rate * sessions.x)) as error,
    from sessions
    inner join rates
        on sessions.client_id = rates.client_id and sessions.place = rates.place
    group by all
),

errors as (
    select
        client_id,
        place,
        count(*) as days,
        sum(error * error) as squares,
    from day_errors
    group by all
),

told as (
    select
        rates.*,
        -- two of each line and the rate itself were fitted
        sqrt(
            errors.squares
            * greatest(
                rates.sessions / nullif(rates.sessions - 2 * rates.lines - 1, 0),
                errors.days / (errors.days - 3)
            )
        ) / rates.weight as rate_se,
        least(rates.first_days, rates.later_days) - 1 as freedom,
    from rates
    cross join review.rules as rules
    inner join errors on rates.client_id = errors.client_id and rates.place = errors.place
    where
        least(rates.first_days, rates.later_days) >= rules.recovery_min_days
        and rates.sessions > 2 * rates.lines + 1
        and errors.days > 3
),

bounded as (
    select
        told.*,
        normal_tail(normal_of_student(abs(rate) / greatest(rate_se, 1e-9), freedom))
        < rules.recovery_p as is_clear,
        rate - student_quantile(1.959963985, freedom) * rate_se as low,
        rate + student_quantile(1.959963985, freedom) * rate_se as high,
    from told
    cross join review.rules as rules
)

select
    client_id::varchar as client_id,
    place::integer as place,
    lifts,
    first_days,
    later_days,
    round(rate, 9) as difference_pct,
    round(low, 9) as low,
    round(high, 9) as high,
    place = 0 and is_clear as is_told,
from bounded
