-- Shell samples of the pens of the chosen trays that are not older than the pen's first chosen setting by more
-- than $days, nor younger than its last.

WITH used AS (
    SELECT pen_key, min(pen) AS pen, min(species) AS species, min(set_day) AS first_day, max(set_day) AS last_day
    FROM chosen
    WHERE closed
    GROUP BY pen_key
)
SELECT u.pen, u.species, s.sampled_on, s.eggs, s.thickness_mm, s.specific_gravity, s.egg_weight_g
FROM used u
JOIN shells s ON label_of(s.pen) = u.pen_key AND s.withdrawn_in IS NULL
    AND s.sampled_on BETWEEN u.first_day - CAST($days AS INTEGER) AND u.last_day
ORDER BY u.pen, s.sampled_on
