-- Probability that a standard normal value lies above z: Abramowitz and Stegun 26.2.17, off by less
-- than 0.0000001. Parameters:
--   z: standard errors
create or replace temporary macro normal_tail(z) as (
    (1 - sign(z)) / 2
    + sign(z) * exp(-z * z / 2) / sqrt(2 * pi()) * (
        0.319381530 * pow(1 + 0.2316419 * abs(z), -1)
        - 0.356563782 * pow(1 + 0.2316419 * abs(z), -2)
        + 1.781477937 * pow(1 + 0.2316419 * abs(z), -3)
        - 1.821255978 * pow(1 + 0.2316419 * abs(z), -4)
        + 1.330274429 * pow(1 + 0.2316419 * abs(z), -5)
    )
)
