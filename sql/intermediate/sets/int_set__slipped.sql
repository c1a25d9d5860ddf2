-- One row per work set whose load looks noted in another unit, or for one hand instead of both.
-- grain: set_id
-- set_id: the set
-- factor: its load over what the lift's other sessions say: 2.2046, 2 or their inverses
select
    loaded.set_id,
    slips.factor,
from int_set__loaded as loaded
inner join int_lift_stretch__slipped as slips
    on
        loaded.client_id = slips.client_id
        and loaded.exercise = slips.exercise
        and loaded.performed_on between slips.slipped_from and slips.slipped_to
where loaded.set_role = 'work' and loaded.effective_load_kg is not null
