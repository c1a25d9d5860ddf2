-- One row per exercise of either span: sessions and the best of each. The difference is that of two
-- bests: a span with more sessions has more tries.
-- grain: exercise
-- exercise: the exercise
-- sessions_this: days with a work set in this span [days]
-- sessions_against: the same in the other [days]
-- e1rm_this: highest estimated one-repetition maximum in this span; null: none [kg]
-- e1rm_against: the same in the other [kg]
-- difference_pct: this against the other; null: not in both [%]
with bests as (
    select
        lift_session.exercise,
        count(*) filter (where spans.span = 'this') as sessions_this,
        count(*) filter (where spans.span = 'against') as sessions_against,
        max(lift_session.e1rm) filter (where spans.span = 'this') as e1rm_this,
        max(lift_session.e1rm) filter (where spans.span = 'against') as e1rm_against,
    from asked_spans as spans
    inner join review.lift_session as lift_session
        on
            spans.client_id = lift_session.client_id
            and lift_session.day between spans.from_on and spans.to_on
    group by lift_session.exercise
)

select
    exercise,
    sessions_this,
    sessions_against,
    e1rm_this,
    e1rm_against,
    round(100 * (e1rm_this / nullif(e1rm_against, 0) - 1), 9) as difference_pct,
from bests
