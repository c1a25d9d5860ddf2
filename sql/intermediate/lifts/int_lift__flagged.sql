-- One row per client, look and lift that stalls or regresses: whether so many flags, or as strong ones, are
-- rarer than chance among all the lifts of the client that are judged. The lifts are put in order of
-- their evidence; the least of the binomial tails decides, so that one strong flag counts and so do
-- many weaker ones.
-- grain: client_id, look_on, exercise
-- client_id: the client
-- look_on: the look
-- exercise: the exercise
-- flag_p: probability of so much evidence on this lift by chance
-- judged_lifts: lifts of the client with a status
-- flagged_lifts: those that stall or regress
-- chance_p: probability of as many lifts with as much evidence by chance, this one the weakest
-- is_beyond_chance: whether it is among lifts that are together rarer than chance
with rules as (
    select *,
    from review.rules
),

judged as (
    select
        client_id,
        look_on,
        exercise,
        needs_look,
        flag_p,
        count(*) over (partition by client_id, look_on) as judged_lifts,
    from int_lift__stood
    where has_status
),

flagged as (
    select
        *,
        row_number() over (partition by client_id, look_on order by flag_p, exercise) as place,
        count(*) over (partition by client_id, look_on) as flagged_lifts,
    from judged
    where needs_look
),

terms as (
    select
        *,
        unnest(range(place, judged_lifts + 1)) as flags,
    from flagged
),

tails as (
    select
        client_id,
        look_on,
        exercise,
        flag_p,
        place,
        judged_lifts,
        flagged_lifts,
        round(
            sum(
                exp(
                    lgamma(judged_lifts + 1) - lgamma(flags + 1) - lgamma(judged_lifts - flags + 1)
                )
                * pow(flag_p, flags)
                * pow(1 - flag_p, judged_lifts - flags)
            ),
            12
        ) as chance_p,
    from terms
    group by all
)

select
    tails.client_id,
    tails.look_on,
    tails.exercise,
    tails.flag_p,
    tails.judged_lifts,
    tails.flagged_lifts,
    tails.chance_p,
    coalesce(
        bool_or(
            tails.chance_p <= case
                when tails.judged_lifts <= rules.chance_few_lifts then rules.chance_few_p
                else rules.chance_p
            end
        ) over (
            partition by tails.client_id, tails.look_on
            order by tails.place
            rows between current row and unbounded following
        ),
        false
    ) as is_beyond_chance,
from tails
cross join rules
