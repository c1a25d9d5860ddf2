-- The normal value that is as rare as a value of Student's t (Abramowitz and Stegun 26.7.8).
-- Parameters:
--   t: value of Student's t
--   freedom: degrees of freedom
create or replace temporary macro normal_of_student(t, freedom) as (
    t * (1 - 1 / (4 * freedom)) / sqrt(1 + t * t / (2 * freedom))
)
