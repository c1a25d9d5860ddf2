-- Quantile of Student's t from that of the normal: three terms of its expansion (Abramowitz and
-- Stegun 26.7.5); at two degrees of freedom and 97.5 % 3 % too small, from six on under 0.01 %.
-- Parameters:
--   z: quantile of the normal
--   freedom: degrees of freedom
create or replace temporary macro student_quantile(z, freedom) as (
    z
    + (pow(z, 3) + z) / 4 / freedom
    + (5 * pow(z, 5) + 16 * pow(z, 3) + 3 * z) / 96 / pow(freedom, 2)
    + (3 * pow(z, 7) + 19 * pow(z, 5) + 17 * pow(z, 3) - 15 * z) / 384 / pow(freedom, 3)
)
