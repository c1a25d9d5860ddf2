-- One row per group of muscles whose sets meet the guide's low end together (lats and upper back), a
-- set counted once: what a week holds after swaps, and what sets added give.
-- grain: low_end_group
-- low_end_group: the group
-- fractional_sets: fractional hard sets a week [sets a week]
-- added_sets: those added or taken [sets a week]
with weights as (
    select
        roles.exercise,
        muscles.low_end_group,
        max(roles.weight) as weight,
    from review.exercise_muscles as roles
    inner join review.muscles as muscles on roles.muscle = muscles.muscle
    where muscles.low_end_group is not null
    group by all
),

sums as (
    select
        weights.low_end_group,
        sum(sessions.hard_sets * weights.weight) / span.weeks as fractional_sets,
    from whatif_sessions as sessions
    cross join whatif_span as span
    inner join weights on sessions.exercise = weights.exercise
    where sessions.version = 'after'
    group by weights.low_end_group, span.weeks
),

additions as (
    select
        coalesce(weights.low_end_group, muscles.low_end_group) as low_end_group,
        sum(added.sets_a_week * coalesce(weights.weight, 1)) as added_sets,
    from whatif_added as added
    left join weights on added.exercise = weights.exercise
    left join review.muscles as muscles
        on added.muscle = muscles.muscle and added.exercise is null
    group by all
)

select
    coalesce(sums.low_end_group, additions.low_end_group) as low_end_group,
    coalesce(sums.fractional_sets, 0) as fractional_sets,
    coalesce(additions.added_sets, 0) as added_sets,
from sums
full join additions on sums.low_end_group = additions.low_end_group
where coalesce(sums.low_end_group, additions.low_end_group) is not null
