-- One row per look and group of sessions: the sums over rules.history_weeks from which courses are
-- fitted. A group is a band of repetitions at one level: each has a height of its own, the slope is
-- shared. Groups of fewer than rules.group_min_sessions are left out.
-- grain: look, band, level
-- look: number of the look
-- band: repetitions to failure
-- level: number of the level among the lasting steps known then
-- n: sessions
-- t: sum of weeks before the look, 0 or less
-- tt: sum of their squares
-- y: sum of values
-- ty: sum of products
-- yy: sum of squared values
-- quick_e: sum of the quicker curve, e to the power of −t / rules.curve_weeks_short
-- quick_ee: sum of its squares
-- quick_ey: sum of its products with values
-- slow_e: sum of the slower curve, e to the power of −t / rules.curve_weeks_long
-- slow_ee: sum of its squares
-- slow_ey: sum of its products with values
-- log_e: sum of logs of the weeks since the run began and rules.curve_log_weeks before
-- log_ee: sum of their squares
-- log_ey: sum of their products with values
-- step_n: sessions since the possible step
-- step_t: sum of their weeks
-- step_y: sum of their values
-- pairs: pairs of neighbouring sessions, those beside a step left out
-- pair_squares: sum of squared differences between them
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        looks.look,
        cleaned.band,
        coalesce(len(list_filter(looks.steps, lambda step: step <= cleaned.day)), 0) as level,
        (cleaned.day - looks.until_on) / 7 as t,
        -- beside a step the sessions before are no measure for it
        coalesce(
            len(
                list_filter(
                    looks.edges, lambda step: step <= cleaned.day and step > cleaned.compared_from
                )
            ) > 0,
            false
        ) as is_beside_step,
        case when is_beside_step then cleaned.raw_value else cleaned.log_value end
        - looks.run_value as y,
        exp(-t / rules.curve_weeks_short) as quick_e,
        exp(-t / rules.curve_weeks_long) as slow_e,
        ln((cleaned.day - looks.run_from) / 7 + rules.curve_log_weeks) as log_e,
        coalesce(cleaned.day >= looks.weak_step_on, false) as is_after_step,
        case when not is_beside_step then cleaned.log_step end as pair,
    from int_lift_look__drawn as looks
    cross join rules
    inner join int_lift_session__cleaned as cleaned
        on
            looks.client_id = cleaned.client_id
            and looks.exercise = cleaned.exercise
            and looks.run = cleaned.run
            and cleaned.day between looks.until_on - 7 * rules.history_weeks + 1
            and looks.until_on
    where cleaned.log_value is not null
)

select
    look,
    band,
    level::integer as level,
    count(*)::integer as n,
    sum(t) as t,
    sum(t * t) as tt,
    sum(y) as y,
    sum(t * y) as ty,
    sum(y * y) as yy,
    sum(quick_e) as quick_e,
    sum(quick_e * quick_e) as quick_ee,
    sum(quick_e * y) as quick_ey,
    sum(slow_e) as slow_e,
    sum(slow_e * slow_e) as slow_ee,
    sum(slow_e * y) as slow_ey,
    sum(log_e) as log_e,
    sum(log_e * log_e) as log_ee,
    sum(log_e * y) as log_ey,
    count(*) filter (where is_after_step)::integer as step_n,
    coalesce(sum(t) filter (where is_after_step), 0) as step_t,
    coalesce(sum(y) filter (where is_after_step), 0) as step_y,
    count(pair)::integer as pairs,
    coalesce(sum(pair * pair), 0) as pair_squares,
from sessions
cross join (select group_min_sessions, from rules) as rules
group by look, band, level
having count(*) >= any_value(group_min_sessions)
