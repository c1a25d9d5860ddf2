-- One row per muscle: what a change would make of its week, all else as in the days it rests on. The
-- standing before is that of the review; the one after follows the same rule.
-- grain: muscle
-- muscle: the muscle
-- weekly_rate_before: fractional hard sets a week now [sets a week]
-- weekly_rate_after: the same after the change [sets a week]
-- days_between_before: days from one hit to the next now, on average; null: no hits [days]
-- days_between_after: the same after the change [days]
-- sets_per_hit_before: direct hard sets of a hit now, on average; null: no hits [sets]
-- sets_per_hit_after: the same after the change [sets]
-- extended_share_before: share of its sets that went on after failure; null: no sets [share]
-- extended_share_after: the same after the change [share]
-- guide_low: low end of the guide; null: none [sets a week]
-- guide_high: high end [sets a week]
-- session_high: high end of the guide a session [sets]
-- standing_before: below, within or above the guide; null: not judged
-- standing_after: the same after the change
with additions as (
    select
        coalesce(roles.muscle, added.muscle) as muscle,
        sum(added.sets_a_week) filter (where coalesce(roles.role, 'direct') = 'direct')
            as direct_sets,
        sum(added.sets_a_week * coalesce(roles.weight, 1)) as fractional_sets,
    from whatif_added as added
    left join review.exercise_muscles as roles on added.exercise = roles.exercise
    group by all
),

muscle_weeks as (
    select
        muscles.muscle,
        muscles.position,
        span.round_days,
        span.rest_days,
        span.is_judged,
        7 * span.weeks / nullif(now.hits, 0) as days_now,
        7 * span.weeks / nullif(changed.hits, 0) as days_then,
        coalesce(days_then, span.round_days) as days,
        now.direct_sets as direct_now,
        coalesce(now.fractional_sets, 0) as fractional_now,
        now.extended_sets / nullif(now.fractional_sets, 0) as extended_share_now,
        coalesce(changed.direct_sets, 0) as direct_then,
        coalesce(changed.fractional_sets, 0) as fractional_then,
        changed.extended_sets / nullif(changed.fractional_sets, 0) as extended_share_then,
        coalesce(additions.direct_sets, 0) as direct_added,
        coalesce(additions.fractional_sets, 0) as fractional_added,
    from review.muscles as muscles
    cross join whatif_span as span
    left join whatif_hits as now on muscles.muscle = now.muscle and now.version = 'before'
    left join whatif_hits as changed
        on muscles.muscle = changed.muscle and changed.version = 'after'
    left join additions on muscles.muscle = additions.muscle
),

changed_weeks as (
    select
        muscle_weeks.*,
        whole.weekly_rate_after,
        case when direct.sets_per_hit_after > 0 then direct.days_between_after end
            as days_between_after,
        nullif(direct.sets_per_hit_after, 0) as sets_per_hit_after,
        round(muscle_weeks.direct_now * muscle_weeks.days_now / 7, 9) as sets_per_hit_before,
    from muscle_weeks
    cross join changed_rate(
        muscle_weeks.fractional_then * muscle_weeks.days / 7,
        muscle_weeks.days,
        rotation_days := muscle_weeks.round_days,
        rest_days := muscle_weeks.rest_days,
        sets_added := muscle_weeks.fractional_added * muscle_weeks.days / 7
    ) as whole
    cross join changed_rate(
        muscle_weeks.direct_then * muscle_weeks.days / 7,
        muscle_weeks.days,
        rotation_days := muscle_weeks.round_days,
        rest_days := muscle_weeks.rest_days,
        sets_added := muscle_weeks.direct_added * muscle_weeks.days / 7
    ) as direct
),

group_rates as (
    select
        groups.low_end_group,
        changed.weekly_rate_after,
    from whatif_groups as groups
    cross join whatif_span as span
    cross join changed_rate(
        groups.fractional_sets * span.round_days / 7,
        span.round_days,
        rest_days := span.rest_days,
        sets_added := groups.added_sets * span.round_days / 7
    ) as changed
)

select
    changed.muscle,
    round(changed.fractional_now, 9) as weekly_rate_before,
    changed.weekly_rate_after,
    round(changed.days_now, 9) as days_between_before,
    changed.days_between_after,
    changed.sets_per_hit_before,
    changed.sets_per_hit_after,
    round(changed.extended_share_now, 9) as extended_share_before,
    round(changed.extended_share_then, 9) as extended_share_after,
    status.guide_low,
    status.guide_high,
    status.session_high,
    status.standing as standing_before,
    case
        when changed.is_judged
            then standing_to_guide(
                changed.weekly_rate_after,
                coalesce(group_rates.weekly_rate_after, changed.weekly_rate_after),
                status.guide_low,
                status.guide_high,
                margin := standing_margin(
                    coalesce(status.median_sets_per_hit, 0)
                    + coalesce(changed.sets_per_hit_after, 0)
                    - coalesce(changed.sets_per_hit_before, 0),
                    rules.rate_days
                ),
                may_be_below := status.may_be_below
                and coalesce(changed.extended_share_then, 0) <= rules.extended_share_max
            )
    end as standing_after,
from changed_weeks as changed
cross join whatif_span as span
cross join review.rules as rules
inner join review.muscle_status as status
    on changed.muscle = status.muscle and span.client_id = status.client_id
left join group_rates on status.low_end_group = group_rates.low_end_group
order by changed.position
