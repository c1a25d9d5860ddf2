-- One row per muscle with a hard set in either span: its sets a week.
-- grain: muscle
-- muscle: the muscle
-- weekly_sets_this: fractional hard sets a week in this span [sets a week]
-- weekly_sets_against: the same in the other [sets a week]
-- direct_sets_this: direct hard sets a week in this span [sets a week]
-- direct_sets_against: the same in the other [sets a week]
select
    muscle_day.muscle,
    round(
        coalesce(
            sum(7 * muscle_day.fractional_sets / (spans.to_on - spans.from_on + 1))
                filter (where spans.span = 'this'),
            0
        ),
        9
    ) as weekly_sets_this,
    round(
        coalesce(
            sum(7 * muscle_day.fractional_sets / (spans.to_on - spans.from_on + 1))
                filter (where spans.span = 'against'),
            0
        ),
        9
    ) as weekly_sets_against,
    round(
        coalesce(
            sum(7 * muscle_day.direct_sets / (spans.to_on - spans.from_on + 1))
                filter (where spans.span = 'this'),
            0
        ),
        9
    ) as direct_sets_this,
    round(
        coalesce(
            sum(7 * muscle_day.direct_sets / (spans.to_on - spans.from_on + 1))
                filter (where spans.span = 'against'),
            0
        ),
        9
    ) as direct_sets_against,
from asked_spans as spans
inner join review.muscle_day as muscle_day
    on
        spans.client_id = muscle_day.client_id
        and muscle_day.day between spans.from_on and spans.to_on
group by muscle_day.muscle
having sum(muscle_day.fractional_sets) > 0
