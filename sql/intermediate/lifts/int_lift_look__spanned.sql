-- One row per look, group of sessions and span of weeks before the look: the sums from which bends
-- and the last spans alone are fitted, as in int_lift_look__summed.
-- grain: look, band, level, weeks
-- look: number of the look
-- band: repetitions to failure
-- level: number of the level among the lasting steps known then
-- weeks: length of the span [weeks]
-- n: sessions
-- t: sum of weeks before the look, 0 or less
-- tt: sum of their squares
-- y: sum of values
-- ty: sum of products
with rules as (
    select *,
    from review.rules
),

-- where a course may bend, and the longest span that is looked at alone
spans as (
    select unnest(
        list_append(
            [
                round(bend_weeks_low * pow(bend_weeks_high / bend_weeks_low, i / (bend_days - 1)))
                for i in range(bend_days)
            ],
            flat_weeks_long
        )
    )::integer as weeks,
    from rules
),

sessions as (
    select
        looks.look,
        cleaned.band,
        coalesce(len(list_filter(looks.steps, lambda step: step <= cleaned.day)), 0) as level,
        (looks.until_on - cleaned.day) // 7 as whole_weeks,
        (cleaned.day - looks.until_on) / 7 as t,
        case
            when
                len(
                    list_filter(
                        looks.edges,
                        lambda step: step <= cleaned.day and step > cleaned.compared_from
                    )
                ) > 0
                then cleaned.raw_value
            else cleaned.log_value
        end - looks.run_value as y,
    from int_lift_look__drawn as looks
    cross join rules
    inner join int_lift_session__cleaned as cleaned
        on
            looks.client_id = cleaned.client_id
            and looks.exercise = cleaned.exercise
            and looks.run = cleaned.run
            and cleaned.day between looks.until_on - 7 * rules.flat_weeks_long + 1
            and looks.until_on
    where cleaned.log_value is not null
)

select
    sessions.look,
    sessions.band,
    sessions.level::integer as level,
    spans.weeks,
    count(*)::integer as n,
    sum(sessions.t) as t,
    sum(sessions.t * sessions.t) as tt,
    sum(sessions.y) as y,
    sum(sessions.t * sessions.y) as ty,
from sessions
inner join spans on sessions.whole_weeks < spans.weeks
group by all
